/** Runs the decoder beside the page: one frame in, what was seen in it out, one at a time. */
import { Engine } from './engine';
import type { FromWorker, ToWorker } from './messages';

// Begins to load at once: the file is fetched and compiled while the camera still warms up.
let loading = load();

function load(bytes?: ArrayBuffer): Promise<Engine> {
  const engine = Engine.load(bytes);
  engine.then(
    () => say({ kind: 'ready' }),
    (error: unknown) => say({ kind: 'broken', message: String(error) }),
  );
  return engine;
}

addEventListener('message', ({ data }: MessageEvent<ToWorker>) => {
  if (data.kind === 'wasm') loading = load(data.bytes);
  else void look(data);
});

async function look({ id, frame, all }: ToWorker & { kind: 'look' }): Promise<void> {
  try {
    say({ kind: 'seen', id, seen: await (await loading).look(frame, all) });
  } catch (error) {
    say({ kind: 'failed', id, message: String(error) });
  } finally {
    // A frame not closed holds one of the camera's few buffers, and the picture freezes.
    if ('close' in frame) frame.close();
  }
}

function say(message: FromWorker): void {
  postMessage(message);
}
