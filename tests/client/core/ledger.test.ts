/** What becomes of own records once the server has spoken: sync.md 3.4 to 3.6. */
import 'fake-indexeddb/auto';
import { describe, expect, it } from 'vitest';
import { Ledger } from '../../../client/src/ledger';
import { epochOf } from '../../../client/src/mark';
import { Outbox, type Answer, type Kept } from '../../../client/src/outbox';
import type { Pulled } from '../../../client/src/pull';
import { newId } from '../../../client/src/random';
import { PAIRING } from './fake-server';

const [E1, E2, E3] = ['e00000000001', 'e00000000002', 'e00000000003'] as const;
const DAY = 86_400_000;
const H = 'ab'.repeat(16);
const RECEIPT = JSON.stringify({ t: 1 });
let made = 0;

async function device(): Promise<{ box: Outbox; ledger: Ledger; write(n: number, w?: number): Promise<Kept[]> }> {
  const box = new Outbox(`l${(made += 1)}`);
  await box.set('device', PAIRING);
  const write = (n: number, w = 1_000_000): Promise<Kept[]> => box.append(
    Array.from({ length: n }, () => ({ id: newId(1), ty: 'note.written', tv: 1, sub: ['B0000001K'], d: { text: 'x' } })),
    undefined, `${E1}.7`, () => ({ w, o: 0, q: 'sync', tz: 0 }), 0,
  );
  return { box, ledger: new Ledger(box), write };
}

const ok = (kept: Kept[], first = 1): Answer[] => kept.map(({ id }, i) => [id, 'ok', first + i, RECEIPT, 'r']);
const ids = (kept: Kept[]): Set<string> => new Set(kept.map(({ id }) => id));
const word = (answers: Answer[], contig: Record<string, number> = {}, epoch: string = E1, head = `9.${H}`) => ({ epoch, head, contig, answers });
const waiting = async (box: Outbox): Promise<number[]> => (await box.queued(1_000)).map(({ sq }) => sq);
const pulledRow = (kept: Kept, pos: number): Pulled => [kept.text, kept.mac, JSON.stringify({ id: kept.id, t: 5, e: E1, p: pos }), 'log', pos];

describe('what is acknowledged', () => {
  it('marks only what is named, and nothing by a word it does not know', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(4);
    await ledger.settle(word([
      [kept[0]!.id, 'ok', 1, RECEIPT, 'r'], [kept[1]!.id, 'later', 0, '', ''], [kept[2]!.id, 'splendid', 3, RECEIPT, 'r'],
      ['00000000-0000-7000-8000-000000000000', 'ok', 4, RECEIPT, 'r'],
    ]), ids(kept));
    expect(await waiting(box)).toEqual([2, 3, 4]);
    expect((await box.newest(10)).find(({ id }) => id === kept[0]!.id)).toMatchObject({ state: 'acked', pos: 1, ep: E1, receipt: RECEIPT });
  });

  it('marks nothing that was not in the push it answers', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(2);
    await ledger.settle(word(ok(kept)), ids(kept.slice(0, 1)));
    expect(await waiting(box)).toEqual([2]);
  });

  it('mints a new stream after a fork, and when the server has more than was ever written', async () => {
    const { ledger, write } = await device();
    const [one] = await write(1);
    await ledger.settle(word([[one!.id, 'fork', 1, RECEIPT, 'r']]), ids([one!]));
    const [two] = await write(1);
    expect(two!.st).not.toBe(one!.st);
    expect(two!.sq).toBe(1);
    await ledger.settle(word([], { [two!.st]: 9 }), new Set());
    const [three] = await write(1);
    expect(three!.st).not.toBe(two!.st);
  });

  it('sends again what the server no longer has', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(3);
    const st = kept[0]!.st;
    await ledger.settle(word(ok(kept), { [st]: 3 }), ids(kept));
    expect(await waiting(box)).toEqual([]);
    await ledger.settle(word([], { [st]: 1 }), new Set());
    expect(await waiting(box)).toEqual([2, 3]);
  });

  it('takes a gap at a parked record for no loss, whatever was acknowledged behind it', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(3);
    await ledger.settle(word([[kept[0]!.id, 'big', 0, '', ''], ...ok(kept.slice(1))], { [kept[0]!.st]: 0 }), ids(kept));
    expect(await waiting(box)).toEqual([]);
    expect((await box.newest(3)).map(({ state }) => state)).toEqual(['acked', 'acked', 'parked']);
  });

  it('a pulled row of ours is acknowledged with the log\u2019s own receipt, and others\u2019 rows are given back', async () => {
    const { box, ledger, write } = await device();
    const [one] = await write(1);
    const foreign: Pulled = [one!.text.replace(one!.id, newId(2)), 'm', RECEIPT, 'r', 8];
    expect(await ledger.pulled([pulledRow(one!, 7), foreign], E1)).toEqual({ others: [foreign], freed: true });
    expect((await box.newest(1))[0]).toMatchObject({ state: 'acked', pos: 7, ep: E1, rmac: 'log' });
  });

  it('another text under an id of ours is an other\u2019s row, and ours still waits', async () => {
    const { box, ledger, write } = await device();
    const [one] = await write(1);
    const twin: Pulled = [one!.text.replace('"text":"x"', '"text":"y"'), 'm', RECEIPT, 'r', 8];
    expect(await ledger.pulled([twin], E1)).toEqual({ others: [twin], freed: false });
    expect(await waiting(box)).toEqual([1]);
  });
});

describe('a new epoch', () => {
  it('offers all that was acknowledged, part by part; what is wanted waits again, on top', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(5);
    await ledger.settle(word(ok(kept)), ids(kept));
    await ledger.underneath(ids(kept));
    const [parked] = await write(1);
    await ledger.park(parked!.id, 'big');
    expect(await ledger.reset(E2)).toBe(true);
    expect(await ledger.mark()).toMatchObject({ epochs: [E1, E2], proof: `${E2}.0.`, own: 0 });
    expect(await waiting(box)).toEqual([]);
    const offered: number[] = [];
    for (let next = await ledger.toOffer(2); next; next = await ledger.toOffer(2)) {
      offered.push(...next.kept.map(({ sq }) => sq));
      await ledger.offered(E2, `0.${'0'.repeat(32)}`, new Set(next.kept.filter(({ sq }) => sq % 2).map(({ id }) => id)), next.to);
    }
    expect(offered).toEqual([1, 2, 3, 4, 5]);
    expect(await waiting(box)).toEqual([1, 3, 5]);
    expect((await box.onTop()).map(({ sq }) => sq)).toEqual([1, 3, 5, 6]);
    expect((await box.queued(1))[0]).toMatchObject({ receipt: RECEIPT, rmac: 'r' });
    expect((await ledger.mark()).own).toBeUndefined();
  });

  it('an answer of the epoch that was left acknowledges nothing, whoever was told of the reset meanwhile', async () => {
    const { box, ledger, write } = await device();
    const first = await write(1);
    await ledger.settle(word(ok(first)), ids(first));
    const kept = await write(2);
    await ledger.reset(E2);
    expect(await ledger.settle(word(ok(kept, 2), {}, E1, `99.${H}`), ids(kept))).toBe(false);
    expect(await waiting(box)).toEqual([2, 3]);
    expect((await ledger.mark()).proof).toBe(`${E2}.0.`);
    expect(await ledger.offered(E1, `99.${H}`, new Set(), Infinity)).toBe(false);
    expect((await ledger.mark()).own).toBe(0);
    await ledger.pulled([pulledRow(kept[0]!, 2)], E1);
    expect(await waiting(box)).toEqual([2, 3]);
  });

  it('the present epoch again is begun again; one that was left before means two servers', async () => {
    const { ledger } = await device();
    await ledger.heard(E1, `3.${H}`);
    expect(await ledger.reset(E2)).toBe(true);
    expect(await ledger.reset(E2)).toBe(true);
    expect(await ledger.reset(E1)).toBe(false);
    expect(epochOf(await ledger.mark())).toBe(E2);
    expect(await ledger.reset(E3)).toBe(true);
    expect(await ledger.reset(E2)).toBe(false);
  });

  it('the proof is the furthest place shown, and never goes back within an epoch', async () => {
    const { ledger } = await device();
    await ledger.heard(E1, `9.${H}`);
    await ledger.heard(E1, `7.${H}`);
    expect((await ledger.mark()).proof).toBe(`${E1}.9.${H}`);
    await ledger.heard(E1, 'nonsense');
    await ledger.heard(E2, `12.${H}`);
    expect((await ledger.mark()).proof).toBe(`${E1}.9.${H}`);
  });
});

describe('what may go', () => {
  it('only what lies in two good backups, is older than 30 days and not of the newest 5,000', async () => {
    const { box, ledger, write } = await device();
    const old = await write(40);
    const rest = await write(4_970);
    const now = 1_000_000 + 31 * DAY;
    await ledger.settle(word(ok(old), {}, E1, `5010.${H}`), ids(old));
    await ledger.settle(word(ok(rest, 41), {}, E1, `5010.${H}`), ids(rest));
    await ledger.underneath(ids([...old, ...rest]));
    expect(await ledger.prune(0, now)).toBe(0);
    expect(await ledger.prune(5_010, now - 2 * DAY)).toBe(0);
    expect(await ledger.prune(7, now)).toBe(7);
    expect(await ledger.prune(5_010, now)).toBe(3);
    expect(await ledger.prune(5_010, now)).toBe(0);
    expect(Math.min(...(await box.newest(10_000)).map(({ sq }) => sq))).toBe(11);
  });

  it('nothing whose place is one of an epoch that was left', async () => {
    const { box, ledger, write } = await device();
    const kept = await write(3);
    await ledger.settle(word(ok(kept)), ids(kept));
    await ledger.underneath(ids(kept));
    await write(5_000);
    const now = 1_000_000 + 31 * DAY;
    await ledger.reset(E2);
    expect(await ledger.prune(9, now)).toBe(0);
    await ledger.pulled([pulledRow(kept[1]!, 2)], E2);
    expect(await ledger.prune(9, now)).toBe(1);
    expect(await box.newest(10_000)).toHaveLength(5_002);
  });
});
