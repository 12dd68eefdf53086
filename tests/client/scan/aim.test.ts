import { describe, expect, test } from 'vitest';
import type { SeenSymbol } from '../../../client/src/scan/decoder';
import { aim, watch } from '../../../client/src/scan/watch';

const at = (text: string, x: number, y: number, side = 60): SeenSymbol => ({
  text,
  centre: { x, y },
  corners: [
    { x: x - side / 2, y: y - side / 2 },
    { x: x + side / 2, y: y - side / 2 },
    { x: x + side / 2, y: y + side / 2 },
    { x: x - side / 2, y: y + side / 2 },
  ],
});
const frame = (...symbols: SeenSymbol[]) => ({ symbols, width: 1280, height: 720, ms: 1 });
const same = () => 0;

describe('aim', () => {
  test('nothing seen', () => expect(aim(frame(), same)).toEqual({ kind: 'nothing' }));
  test('a single label is meant wherever it lies', () => {
    expect(aim(frame(at('A', 300, 200)), same)).toMatchObject({ kind: 'one', symbol: { text: 'A' } });
  });
  test('of several the nearest to the middle, not the first found', () => {
    const seen = frame(at('A', 300, 360), at('B', 660, 380), at('C', 1000, 360));
    expect(aim(seen, same)).toMatchObject({ kind: 'one', symbol: { text: 'B' } });
  });
  test('two about as near are nobody’s choice', () => {
    expect(aim(frame(at('A', 540, 360), at('B', 750, 360)), same)).toEqual({ kind: 'several' });
  });
  test('a label that covers the middle is meant, however near the next', () => {
    expect(aim(frame(at('A', 620, 360, 100), at('B', 665, 360, 20)), same)).toMatchObject({ symbol: { text: 'A' } });
  });
  test('the same code printed twice on a bag is one', () => {
    expect(aim(frame(at('A', 540, 360), at('A', 750, 360)), same)).toMatchObject({ kind: 'one' });
  });
  test('ours goes before a foreign label that lies nearer', () => {
    const seen = frame(at('https://example.test/', 640, 360), at('OURS', 800, 400));
    expect(aim(seen, (text) => (text === 'OURS' ? 0 : 5))).toMatchObject({ symbol: { text: 'OURS' } });
  });
});

test('the loop holds one frame in flight, goes on after an error, and stops', async () => {
  let waiting: ((time: number) => void) | undefined;
  const video = { requestVideoFrameCallback: (next: (time: number) => void) => ((waiting = next), 1) } as unknown as HTMLVideoElement;
  let inFlight = 0;
  let most = 0;
  let turns = 0;
  const troubles: unknown[] = [];
  const decoder = {
    async look() {
      inFlight += 1;
      most = Math.max(most, inFlight);
      turns += 1;
      await new Promise((resolve) => setTimeout(resolve, 5));
      inFlight -= 1;
      if (turns === 2) throw new Error('one bad frame');
      return frame();
    },
  };
  let seen = 0;
  const stop = watch(video, decoder, () => (seen += 1), (error) => troubles.push(error));
  const end = Date.now() + 20_000;
  while (turns < 4 && Date.now() < end) {
    // The camera delivers whether or not the decoder is done.
    const next = waiting;
    waiting = undefined;
    next?.(0);
    await new Promise((resolve) => setTimeout(resolve, 2));
  }
  stop();
  const turnsAtStop = turns;
  await new Promise((resolve) => setTimeout(resolve, 120));
  waiting?.(0);
  await new Promise((resolve) => setTimeout(resolve, 20));
  expect(most).toBe(1);
  expect(troubles).toHaveLength(1);
  expect(turns).toBe(turnsAtStop);
  expect(turns).toBeGreaterThanOrEqual(4);
  // The fourth was still on its way when it stopped: what comes after the stop is not told.
  expect(seen).toBe(turns - troubles.length - 1);
});
