import 'fake-indexeddb/auto';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { Outbox, type Kept, type Ready } from '../../../client/src/outbox';
import { macOf, streamKey } from '../../../client/src/mac';
import { newId } from '../../../client/src/random';
import { PAIRING } from './fake-server';

const STAMP = { w: 1_000_000, o: 5, q: 'sync' as const, tz: 60 };
let made = 0;

// With the app's own patience: a shorter one is passed when a busy machine stands still for a moment.
async function outbox(name = `o${(made += 1)}`): Promise<Outbox> {
  const box = new Outbox(name);
  await box.set('device', PAIRING);
  return box;
}

const ready = (text = 'x'): Ready => ({ id: newId(1), ty: 'note.written', tv: 1, sub: ['B0000001K'], d: { text } });
const write = (box: Outbox, some: Ready[] = [ready()], floor = 0): Promise<Kept[]> => box.append(some, undefined, 'e1.7', () => STAMP, floor);

afterEach(() => vi.restoreAllMocks());

describe('outbox', () => {
  it('stores the exact text that is sent, MACed under the key of its stream', async () => {
    const box = await outbox();
    const [kept] = await write(box);
    const record = JSON.parse(kept!.text);
    expect(record).toMatchObject({ v: 1, dev: PAIRING.dev, gen: 1, sq: 1, at: 1_000_005, base: 'e1.7', by: PAIRING.by, cl: { w: 1_000_000, o: 5, q: 'sync' }, tz: 60 });
    expect(kept!.mac).toBe(macOf(streamKey(PAIRING.key, record.st), kept!.text));
    expect((await box.queued(10))[0]!.text).toBe(kept!.text);
  });

  it('never goes back in time: after its own last, after what it follows', async () => {
    const box = await outbox();
    const [first] = await write(box, [ready()], 9_000_000);
    const [second] = await write(box);
    expect([first!.at, second!.at]).toEqual([9_000_000, 9_000_001]);
  });

  it('gives each number once, however many tabs write at the same time', async () => {
    const tabs = [await outbox('tabs'), new Outbox('tabs'), new Outbox('tabs'), new Outbox('tabs'), new Outbox('tabs')];
    const kept = (await Promise.all(Array.from({ length: 200 }, (_, i) => write(tabs[i % 5]!)))).flat();
    expect(new Set(kept.map(({ st }) => st)).size).toBe(1);
    expect(kept.map(({ sq }) => sq).sort((a, b) => a - b)).toEqual(Array.from({ length: 200 }, (_, i) => i + 1));
    expect(new Set(kept.map(({ at }) => at)).size).toBe(200);
  });

  it('asks for strict durability and resolves only when the transaction is complete', async () => {
    const box = await outbox();
    const real = IDBDatabase.prototype.transaction;
    const order: string[] = [];
    vi.spyOn(IDBDatabase.prototype, 'transaction').mockImplementation(function spied(this: IDBDatabase, ...args) {
      const tx = real.apply(this, args);
      if (args[1] === 'readwrite') {
        order.push(`durability ${(args[2] as IDBTransactionOptions | undefined)?.durability}`);
        tx.addEventListener('complete', () => order.push('complete'));
      }
      return tx;
    });
    await write(box).then(() => order.push('resolved'));
    expect(order).toEqual(['durability strict', 'complete', 'resolved']);
  });

  it('tells a full device, keeps what was there, and writes no half of an act', async () => {
    const box = await outbox();
    const [before] = await write(box);
    const real = IDBObjectStore.prototype.add;
    let n = 0;
    vi.spyOn(IDBObjectStore.prototype, 'add').mockImplementation(function full(this: IDBObjectStore, ...args) {
      n += 1;
      if (n === 2) throw new DOMException('full', 'QuotaExceededError');
      return real.apply(this, args);
    });
    await expect(write(box, [ready(), ready()])).rejects.toMatchObject({ code: 'storage', details: { full: true } });
    vi.restoreAllMocks();
    expect((await box.queued(10)).map(({ id }) => id)).toEqual([before!.id]);
    const [after] = await write(box);
    expect(after!.sq).toBe(2);
  });

  it('opens again after a lost connection and writes the record once', async () => {
    const box = await outbox();
    await write(box);
    const real = IDBDatabase.prototype.transaction;
    let lost = 1;
    vi.spyOn(IDBDatabase.prototype, 'transaction').mockImplementation(function flaky(this: IDBDatabase, ...args) {
      if (lost-- > 0) throw new DOMException('Connection to Indexed Database server lost. Refresh the page to try again', 'UnknownError');
      return real.apply(this, args);
    });
    await write(box);
    expect((await box.queued(10)).map(({ sq }) => sq)).toEqual([1, 2]);
  });

  it('does not write twice when only the news of the commit was lost', async () => {
    const box = await outbox();
    const one = ready();
    const [first] = await write(box, [one]);
    const [again] = await write(box, [one]);
    expect(again).toEqual(first);
    expect(await box.queued(10)).toHaveLength(1);
  });

  it('says so when the storage never answers', async () => {
    vi.spyOn(indexedDB, 'open').mockImplementation(() => new (IDBOpenDBRequest as unknown as new () => IDBOpenDBRequest)());
    const box = new Outbox('hangs', 50);
    await expect(write(box)).rejects.toMatchObject({ code: 'storage', details: { hangs: true } });
    vi.restoreAllMocks();
    await box.set('device', PAIRING);
    await expect(write(box)).resolves.toHaveLength(1);
  });

  it('refuses a record above 16 KiB in bytes, not in characters', async () => {
    const box = await outbox();
    await expect(write(box, [ready('\u{1f344}'.repeat(4_200))])).rejects.toMatchObject({ code: 'too_long' });
    expect(await box.queued(10)).toHaveLength(0);
    await expect(write(box, [ready('x'.repeat(15_000))])).resolves.toHaveLength(1);
  });

  it('refuses to write before it is paired', async () => {
    const box = new Outbox('unpaired');
    await expect(write(box)).rejects.toMatchObject({ code: 'not_paired' });
  });
});
