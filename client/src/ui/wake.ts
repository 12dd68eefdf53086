/** Keeps the screen on while a round or a sweep runs, where the browser can; it is asked anew after each lock. */
import { useEffect, useState } from 'preact/hooks';

/** Whether the screen is held on; false where the browser cannot, or the battery saver forbids it. */
export function useWake(on = true): boolean {
  const [held, setHeld] = useState(false);
  useEffect(() => {
    if (!on || !('wakeLock' in navigator)) return undefined;
    let live = true;
    let lock: WakeLockSentinel | undefined;
    const ask = (): void => {
      if (document.hidden) return;
      navigator.wakeLock.request('screen').then(
        (got) => {
          lock = got;
          if (!live) void got.release();
          else {
            setHeld(true);
            got.addEventListener('release', () => { if (live) setHeld(false); });
          }
        },
        () => setHeld(false),
      );
    };
    ask();
    document.addEventListener('visibilitychange', ask);
    return () => {
      live = false;
      document.removeEventListener('visibilitychange', ask);
      void lock?.release().catch(() => undefined);
    };
  }, [on]);
  return held;
}
