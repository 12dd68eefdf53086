/** The real decoder on drawn frames: settings, tries and places; frames come as a canvas gives them. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { beforeAll, describe, expect, test } from 'vitest';
import { prepareZXingModule, writeBarcode } from 'zxing-wasm/writer';
import { Engine, attempts } from '../../../client/src/scan/engine';
import { findFinders } from '../../../client/src/scan/finders';
import { enlarge, halve, middle, toLuma } from '../../../client/src/scan/luma';
import { missingFinders } from '../../../client/src/scan/mend';
import { troubleOf } from '../../../client/src/scan/trouble';

const require = createRequire(import.meta.url);
const file = (name: string): ArrayBuffer => new Uint8Array(readFileSync(require.resolve(`zxing-wasm/${name}`))).buffer;

/** What the engine needs of a canvas's picture; Node has none. */
class Picture {
  readonly data: Uint8ClampedArray;
  constructor(
    readonly width: number,
    readonly height: number,
    grey = 118,
  ) {
    this.data = new Uint8ClampedArray(width * height * 4).fill(grey);
  }

  /** Draws rows of '#' and ' ' with their top left at (x, y), each symbol `size` px wide. */
  draw(rows: string[], x: number, y: number, size: number): this {
    for (let dy = 0; dy < rows.length * size; dy += 1) {
      const row = rows[Math.floor(dy / size)] as string;
      for (let dx = 0; dx < row.length * size; dx += 1) {
        const at = ((y + dy) * this.width + x + dx) * 4;
        this.data.fill(row[Math.floor(dx / size)] === '#' ? 20 : 240, at, at + 3);
      }
    }
    return this;
  }
}

const TEXT = '7K3Q.B7M2Q4TWX';
let rows: string[];
const load = (): Promise<Engine> => Engine.load(file('reader/zxing_reader.wasm'));
const look = async (engine: Engine, picture: Picture) => engine.look(picture as unknown as ImageData);

beforeAll(async () => {
  (globalThis as { ImageData?: unknown }).ImageData = Picture;
  prepareZXingModule({ overrides: { wasmBinary: file('writer/zxing_writer.wasm') } });
  const { symbol, error } = await writeBarcode(TEXT, { format: 'QRCode', ecLevel: 'H' });
  expect(error).toBe('');
  const { width, height, data } = symbol;
  const bare = Array.from({ length: height }, (_, y) =>
    [...data.slice(y * width, (y + 1) * width)].map((value) => (value ? ' ' : '#')).join(''),
  );
  const quiet = Array<string>(4).fill(' '.repeat(width + 8));
  rows = [...quiet, ...bare.map((row) => `    ${row}    `), ...quiet];
});

describe('what is seen', () => {
  test('a symbol with its place in the whole frame', async () => {
    const size = 4;
    const side = rows.length * size;
    const seen = await look(await load(), new Picture(1280, 720).draw(rows, 500, 300, size));
    expect(seen.symbols.map(({ text }) => text)).toEqual([TEXT]);
    expect([seen.width, seen.height]).toEqual([1280, 720]);
    const [symbol] = seen.symbols;
    expect(Math.abs((symbol?.centre.x ?? 0) - (500 + side / 2))).toBeLessThan(size);
    expect(Math.abs((symbol?.centre.y ?? 0) - (300 + side / 2))).toBeLessThan(size);
    // Clockwise from its own top left.
    const [a, b, c, d] = symbol?.corners ?? [];
    expect(a && b && c && d && a.x < b.x && b.y < c.y && d.x < c.x && a.y < d.y).toBe(true);
  });

  test('all symbols, not the first', async () => {
    const picture = new Picture(1280, 720).draw(rows, 400, 300, 3).draw(rows, 700, 300, 3);
    expect((await look(await load(), picture)).symbols).toHaveLength(2);
  });

  test('hit after hit, without eating memory', async () => {
    const engine = await load();
    const { wasm } = engine as unknown as { wasm: { HEAPU8: Uint8Array; readBarcodesFromPixmap: (...args: never[]) => { delete(): void } } };
    const made = wasm.readBarcodesFromPixmap;
    let alive = 0;
    // The library hands out its lists by hand-kept memory: each must be given back.
    wasm.readBarcodesFromPixmap = (...args) => {
      const list = made(...args);
      const drop = list.delete.bind(list);
      alive += 1;
      list.delete = () => {
        alive -= 1;
        drop();
      };
      return list;
    };
    const picture = new Picture(320, 240).draw(rows, 110, 70, 3);
    await look(engine, picture);
    const heap = wasm.HEAPU8.length;
    for (let i = 0; i < 200; i += 1) expect((await look(engine, picture)).symbols).toHaveLength(1);
    expect(alive).toBe(0);
    expect(wasm.HEAPU8.length).toBe(heap);
  });
});

describe('tries', () => {
  test('one for most frames, more after misses', () => {
    const parts = (misses: number, height = 720): string[] =>
      attempts(misses, height).map(({ part, enlarged, denoised, halved, mended }) =>
        `${part}${enlarged ? ' x2' : ''}${denoised ? ' denoised' : ''}${halved ? ' /2' : ''}${mended ? ' mended' : ''}`);
    expect(parts(0)).toEqual(['middle', 'middle /2']);
    expect(parts(1)).toEqual(['middle', 'middle mended']);
    expect(parts(2)).toEqual(['middle', 'middle x2 denoised']);
    expect(parts(9)).toEqual(['middle', 'middle /2', 'full']);
    expect(parts(29)).toEqual(['middle', 'middle x2 denoised', 'full']);
    expect(parts(0, 480)).toEqual(['middle x2']);
  });

  test('a label at the edge is found by the tenth frame', async () => {
    const engine = await load();
    const picture = new Picture(1280, 720).draw(rows, 20, 20, 4);
    for (let frame = 1; frame < 10; frame += 1) expect((await look(engine, picture)).symbols).toEqual([]);
    expect((await look(engine, picture)).symbols.map(({ text }) => text)).toEqual([TEXT]);
  });

  test('after a hit the cheap try comes first again', async () => {
    const engine = await load();
    const edge = new Picture(1280, 720).draw(rows, 20, 20, 4);
    for (let frame = 1; frame <= 10; frame += 1) await look(engine, edge);
    expect((await look(engine, edge)).symbols).toEqual([]);
  });

  test('dirt that a plain look cannot read is read by the third frame', async () => {
    const engine = await load();
    const size = 3;
    const picture = new Picture(1280, 720).draw(rows, 560, 280, size);
    // Glints of fine drops: three pixels in ten are white. A fixed row of numbers, so that it stays the same.
    let row = 12_345;
    for (let y = 280; y < 280 + rows.length * size; y += 1) {
      for (let x = 560; x < 560 + rows.length * size; x += 1) {
        row = (row * 1_103_515_245 + 12_345) % 2_147_483_648;
        const at = (y * picture.width + x) * 4;
        if (row < 0.3 * 2_147_483_648) picture.data.fill(255, at, at + 3);
      }
    }
    const hits: number[] = [];
    for (let frame = 0; frame < 3; frame += 1) hits.push((await look(engine, picture)).symbols.length);
    expect(hits).toEqual([0, 0, 1]);
  });
});

describe('a finder under dirt', () => {
  const size = 4;
  const [left, top] = [560, 280];
  const hidden = (x: number, y: number, grey: number): Picture => {
    const picture = new Picture(1280, 720).draw(rows, left, top, size);
    for (let row = 0; row < 7 * size; row += 1) {
      const at = ((top + y * size + row) * picture.width + left + x * size) * 4;
      picture.data.fill(grey, at, at + 7 * size * 4);
    }
    return picture;
  };
  // The quiet zone is 4 modules, a symbol of version 2 has 25.
  test.each([[4, 4], [22, 4], [4, 22]])('at (%i, %i) is drawn anew by the second frame', async (x, y) => {
    for (const grey of [20, 150, 250]) {
      const engine = await load();
      const hits: string[] = [];
      for (let frame = 0; frame < 2; frame += 1) hits.push(...(await look(engine, hidden(x, y, grey))).symbols.map(({ text }) => text));
      expect(hits).toEqual([TEXT]);
    }
  });

  test('two hidden are too much, and nothing is made up', async () => {
    const engine = await load();
    const picture = hidden(4, 4, 250);
    for (let row = 0; row < 7 * size; row += 1) {
      const at = ((top + 22 * size + row) * picture.width + left + 4 * size) * 4;
      picture.data.fill(250, at, at + 7 * size * 4);
    }
    for (let frame = 0; frame < 10; frame += 1) expect((await look(engine, picture)).symbols).toEqual([]);
  });

  test('finders are found at their places, and a whole symbol asks for none', () => {
    const picture = new Picture(400, 300).draw(rows, 100, 100, size);
    const luma = toLuma(picture as unknown as ImageData, { x: 0, y: 0, width: 400, height: 300 });
    const found = findFinders(luma);
    const near = (x: number, y: number) => found.some((one) => Math.hypot(one.x - x, one.y - y) < size && Math.abs(one.module - size) < 1);
    // Middles: 4 of quiet zone and 3.5 of the finder; 18 modules apart.
    expect(near(130, 130) && near(202, 130) && near(130, 202)).toBe(true);
    expect(missingFinders(found.slice(0, 3))).toEqual([]);
    expect(missingFinders(found.filter(({ x }) => x < 150)).length).toBeGreaterThan(0);
  });
});

describe('what ails a picture', () => {
  const luma = (picture: Picture) => toLuma(picture as unknown as ImageData, { x: 0, y: 0, width: picture.width, height: picture.height });
  const label = (): Picture => new Picture(640, 480).draw(rows, 240, 160, 5);
  const grey = (change: (value: number) => number) => {
    const { data, width, height } = luma(label());
    return { data: data.map(change), width, height };
  };
  /** Means over a square: an unsharp lens. */
  const unsharp = ({ data, width, height }: ReturnType<typeof luma>, reach: number) => ({
    width, height, data: data.map((_, i) => {
      let sum = 0;
      let n = 0;
      for (let dy = -reach; dy <= reach; dy += 4) {
        for (let dx = -reach; dx <= reach; dx += 4) {
          const near = data[i + dy * width + dx];
          if (near !== undefined) [sum, n] = [sum + near, n + 1];
        }
      }
      return Math.round(sum / n);
    }),
  });

  test('a bare wall and a sharp shelf are no trouble', () => {
    expect(troubleOf(luma(new Picture(640, 480)), [])).toBeNull();
    expect(troubleOf(luma(label()), [])).toBeNull();
  });
  test('too dark', () => expect(troubleOf(grey((value) => value >> 4), [])).toBe('dark'));
  test('a lamp in it', () => expect(troubleOf(grey((value) => (value > 110 ? 255 : value)), [])).toBe('glare'));
  test('a label that is seen, not read', () => expect(troubleOf(luma(label()), findFinders(luma(label())))).toBe('part'));
  test('blurred', () => expect(troubleOf(unsharp(luma(label()), 24), [])).toBe('blur'));
  test('is told after misses and forgotten after a hit', async () => {
    const engine = await load();
    const dark = new Picture(1280, 720, 10);
    const told = [];
    for (let frame = 0; frame < 2; frame += 1) told.push((await look(engine, dark)).trouble);
    expect(told).toEqual([null, 'dark']);
    expect((await look(engine, new Picture(1280, 720).draw(rows, 560, 280, 4))).trouble).toBeNull();
  });
});

describe('grey pictures', () => {
  test('half the size, means of four', () => {
    const { data, width, height } = halve({ data: new Uint8Array([0, 100, 8, 200, 40, 9, 1, 1, 1]), width: 3, height: 3 });
    expect([width, height, ...data]).toEqual([1, 1, 85]);
  });
  test('the middle lies on even pixels and inside', () => {
    expect(middle(1280, 720, 0.6)).toEqual({ x: 256, y: 144, width: 768, height: 432 });
    expect(middle(641, 479, 1)).toEqual({ x: 0, y: 0, width: 640, height: 478 });
  });
  test('brightness of a part', () => {
    const picture = { width: 3, data: new Uint8ClampedArray([0, 0, 0, 255, 255, 0, 0, 255, 255, 255, 255, 255]) };
    expect([...toLuma(picture, { x: 1, y: 0, width: 2, height: 1 }).data]).toEqual([76, 255]);
  });
  test('twice the size, means in between', () => {
    const { data, width, height } = enlarge({ data: new Uint8Array([0, 100, 200, 40]), width: 2, height: 2 });
    expect([width, height]).toEqual([4, 4]);
    expect([...data]).toEqual([0, 50, 100, 100, 100, 85, 70, 70, 200, 120, 40, 40, 200, 120, 40, 40]);
  });
});
