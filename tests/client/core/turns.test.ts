import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import 'fake-indexeddb/auto';
import { Outbox } from '../../../client/src/outbox';
import { Turns } from '../../../client/src/turns';

/** What the page and the network say, with a clock of our own; nothing else makes a turn. */
let page: EventTarget & { visibilityState: string };
let target: EventTarget;
let turns: Turns;
let ran: number;
let broken: boolean;
let made = 0;

const pass = (ms: number): Promise<unknown> => vi.advanceTimersByTimeAsync(ms);
/** The lease lies in IndexedDB, whose answers take a few turns of the loop. */
const settled = async (): Promise<void> => { for (let i = 0; i < 20; i += 1) await pass(1); };

beforeEach(async () => {
  vi.useFakeTimers();
  target = new EventTarget();
  page = Object.assign(new EventTarget(), { visibilityState: 'visible' });
  vi.stubGlobal('document', page);
  vi.stubGlobal('navigator', {});
  for (const name of ['addEventListener', 'removeEventListener'] as const) vi.stubGlobal(name, target[name].bind(target));
  [ran, broken] = [0, false];
  turns = new Turns(new Outbox(`turns${(made += 1)}`), () => {
    ran += 1;
    if (broken) turns.backOff(null);
    else turns.succeeded();
    return Promise.resolve(true);
  });
  turns.start();
  await settled();
  expect(ran).toBe(1); // the start itself is one
});

afterEach(async () => {
  const stopped = turns.stop();
  await settled();
  await stopped;
  vi.unstubAllGlobals();
  vi.useRealTimers();
});

describe('each trigger alone makes a turn (A4, A11: there is no other, and no Background Sync)', () => {
  const triggers: [string, () => void][] = [
    ['the network comes back', () => target.dispatchEvent(new Event('online'))],
    ['the page is shown again', () => target.dispatchEvent(new Event('pageshow'))],
    ['the page comes to the front', () => page.dispatchEvent(new Event('visibilitychange'))],
    ['a record was written', () => turns.afterWrite()],
  ];
  it.each(triggers)('P8_A4 %s', async (_, happens) => {
    happens();
    await pass(50);
    await settled();
    expect(ran).toBe(2);
  });

  it('P8_A4 nothing happens at all: within 15 s, again and again', async () => {
    await pass(15_000);
    await settled();
    expect(ran).toBe(2);
    await pass(15_000);
    await settled();
    expect(ran).toBe(3);
  });

  it('a page behind others asks for nothing, and does when it comes to the front', async () => {
    page.visibilityState = 'hidden';
    page.dispatchEvent(new Event('visibilitychange'));
    await pass(60_000);
    expect(ran).toBe(1);
    page.visibilityState = 'visible';
    page.dispatchEvent(new Event('visibilitychange'));
    await settled();
    expect(ran).toBe(2);
  });

  it('P8_A4 after any failure it is tried again within a minute, and at once when the network comes back', async () => {
    broken = true;
    target.dispatchEvent(new Event('online'));
    await settled();
    const before = ran;
    await pass(60_000);
    await settled();
    expect(ran).toBeGreaterThan(before);
    const [failed] = [ran];
    broken = false;
    target.dispatchEvent(new Event('online'));
    await settled();
    expect(ran).toBe(failed + 1);
  });

  it('B7 what the server asked for by Retry-After is kept to, whoever asks for haste', async () => {
    turns.backOff(40_000);
    for (const [, happens] of triggers) happens();
    await pass(39_000);
    await settled();
    expect(ran).toBe(1);
    await pass(40_000);
    await settled();
    expect(ran).toBeGreaterThan(1);
  });
});
