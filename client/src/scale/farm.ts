/** A scale on the farm's computer: its lines are asked for a few times a second, as they came from the cable. */
import type { ScaleLines } from '../app-types';
import { Watch, type Heard, type Source } from './source';

export const ASK_MS = 250;
const TROUBLED_MS = 2_000;

/** Asks `ask(after)` until stopped. Never throws; what the farm's computer says of its cable is passed on. */
export function openFarm(ask: (after: number) => Promise<ScaleLines>, heard: Heard): Source {
  let stopped = false;
  let after = -1;
  let state = '';
  let watch: Watch | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const be = (now: Parameters<Heard['state']>[0]): void => {
    if (state === now) return;
    state = now;
    heard.state(now);
    if (now !== 'open') { watch?.end(); watch = null; }
  };
  heard.state('opening');
  const turn = async (): Promise<void> => {
    let wait = ASK_MS;
    try {
      const got = await ask(after);
      if (stopped) return;
      be(got.state === 'open' ? 'open' : got.state);
      if (got.state === 'open') watch ??= new Watch({ line: heard.line, state: heard.state });
      // What was sent before we asked first is somebody else's weight.
      if (after >= 0) for (const [, text] of got.lines) { watch?.came(); heard.line(text); }
      after = got.n;
      if (got.state !== 'open') wait = TROUBLED_MS;
    } catch {
      if (stopped) return;
      be('offline');
      wait = TROUBLED_MS;
    }
    timer = setTimeout(() => void turn(), wait);
  };
  void turn();
  return {
    async stop() {
      stopped = true;
      clearTimeout(timer);
      watch?.end();
    },
  };
}
