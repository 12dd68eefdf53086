// Reads pictures with the phone's own reader: on stdin a line of JSON {"side", "looks"} and then, for each picture, side * side
// bytes of grey; on stdout a line of JSON each: [texts, looks taken, ms]. The picture lies in the middle of a camera's frame.
import { readFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const WIDTH = 1280;
const HEIGHT = 720;
const FILM = 150; // the grey of a bag around the label

const client = fileURLToPath(new URL('../../client/', import.meta.url));
const ours = createRequire(join(client, 'package.json'));
const { build } = await import(pathToFileURL(ours.resolve('vite')).href);

/** What the engine needs of a canvas's picture; Node has none. */
class Picture {
  constructor() {
    this.width = WIDTH;
    this.height = HEIGHT;
    this.data = new Uint8ClampedArray(WIDTH * HEIGHT * 4).fill(FILM);
  }

  put(grey, side) {
    const x = (WIDTH - side) >> 1;
    const y = (HEIGHT - side) >> 1;
    for (let row = 0; row < side; row += 1) {
      for (let column = 0; column < side; column += 1) {
        this.data.fill(grey[row * side + column], ((y + row) * WIDTH + x + column) * 4, ((y + row) * WIDTH + x + column) * 4 + 3);
      }
    }
  }
}
globalThis.ImageData = Picture;

const folder = mkdtempSync(join(tmpdir(), 'bagtrail-reader-'));
try {
  const made = await build({
    configFile: false, root: client, logLevel: 'error',
    build: { write: false, minify: false, target: 'node20', lib: { entry: ['src/scan/engine.ts'], formats: ['es'], fileName: () => 'engine.mjs' } },
  });
  const { output } = Array.isArray(made) ? made[0] : made;
  writeFileSync(join(folder, 'engine.mjs'), output[0].code);
  const { Engine } = await import(pathToFileURL(join(folder, 'engine.mjs')).href);
  const wasm = new Uint8Array(readFileSync(ours.resolve('zxing-wasm/reader/zxing_reader.wasm')));
  const engine = await Engine.load(wasm.buffer);
  const chunks = [];
  for await (const chunk of process.stdin) chunks.push(chunk);
  const sent = Buffer.concat(chunks);
  const end = sent.indexOf(10);
  const { side, looks } = JSON.parse(sent.subarray(0, end).toString());
  const frame = new Picture();
  for (let at = end + 1; at < sent.length; at += side * side) {
    frame.put(sent.subarray(at, at + side * side), side);
    engine.misses = 0;
    const began = performance.now();
    let texts = [];
    let taken = 0;
    while (texts.length === 0 && taken < looks) {
      taken += 1;
      texts = (await engine.look(frame)).symbols.map(({ text }) => text);
    }
    console.log(JSON.stringify([texts, taken, performance.now() - began]));
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
