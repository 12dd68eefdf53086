/** An answer of the data layer on screen: asked again whenever something was written or pulled. */
import { useEffect, useState } from 'preact/hooks';
import { app } from './app';

/** undefined while it is looked up, null where there is none. */
export function useAnswer<T>(ask: () => Promise<T | null>, keys: unknown[]): T | null | undefined {
  const [answer, setAnswer] = useState<T | null | undefined>(undefined);
  // Whatever is written moves one of these; what is pulled moves `changed`.
  const a = app();
  const tick = [a.changed.value, a.lastAct.value];
  useEffect(() => {
    let live = true;
    ask().then((got) => { if (live) setAnswer(got); }, () => { if (live) setAnswer(null); });
    return () => { live = false; };
    // What `ask` depends on is named by `keys`.
  }, [...keys, ...tick]);
  return answer;
}
