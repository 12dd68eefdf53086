/** A round on the real outbox: every scan a record at once, and nothing lost when the phone dies in the middle. */
import { afterEach, describe, expect, it, vi } from 'vitest';
import { newCode } from '../../../client/src/ids';
import { newId } from '../../../client/src/random';
import { Driver } from '../../../client/src/round/driver';
import { factOf, type Names } from '../../../client/src/round/facts';
import type { Told } from '../../../client/src/round/machine';
import { codeOf } from '../../../client/src/round/commands';
import { FakeServer } from '../core/fake-server';
import { phone, type Phone } from '../core/device';

afterEach(() => vi.restoreAllMocks());

const NAMES: Names = { any: (code) => code, part: (code, part) => part.num ?? code, next: () => 'A1' };

async function farm(bags: number): Promise<{ one: Phone; codes: string[]; batch: string; shelf: string; lot: string }> {
  const one = await phone(new FakeServer());
  const [batch, shelf, lot] = [newCode('M'), newCode('P'), newCode('S')];
  const codes = Array.from({ length: bags }, () => newCode('B'));
  await one.app.write([
    { ty: 'batch.mixed', sub: [batch], d: { name: '25 Nov A1' } },
    { ty: 'bag.filled', sub: [batch], d: { n: bags + 40, to: codes, first: 'A1' } },
    { ty: 'place.named', sub: [shelf], d: { name: 'A3', type: 'shelf' } },
    { ty: 'strain.named', sub: ['strain'], d: { name: 'Fen 4' } },
  ]);
  const strain = Object.keys(one.app.ref.value.strains)[0] ?? 'strain-00000000-0000-7000-8000-000000000001';
  await one.app.write([{ ty: 'spawn.received', sub: [lot], d: { strain } }]);
  await one.app.part(codes[0] as string);
  return { one, codes, batch, shelf, lot };
}

function drive(one: Phone, heard: Told[] = []): Driver {
  return new Driver({
    app: one.app, fact: (code) => factOf(code, one.app, NAMES), name: (code) => code, newId: () => newId(Date.now()), now: () => Date.now(),
    tell: (told) => heard.push(told), failed: () => undefined,
  });
}

const moved = async (one: Phone): Promise<{ id: string; sub: string[]; rnd?: string }[]> =>
  (await one.outbox.newest(1000)).map(({ text }) => JSON.parse(text)).filter((r) => r.ty === 'bag.moved');

describe('a round on the outbox', () => {
  it('stores each scan at once, under the id of the round', async () => {
    const { one, codes, shelf } = await farm(60);
    const driver = drive(one);
    await driver.begin('move');
    await driver.scan(shelf);
    // As fast as a hand can: none waits for the one before.
    await Promise.all(codes.map((code) => driver.scan(code)));
    const records = await moved(one);
    expect(records).toHaveLength(60);
    expect(new Set(records.map((r) => r.rnd))).toEqual(new Set([driver.round.value?.id]));
    expect(driver.taken.value.map(({ code }) => code)).toEqual(codes);
  });

  it('goes on after the phone died: purpose, target, lines and misfits are there, no bag is taken twice', async () => {
    const { one, codes, shelf } = await farm(4);
    const before = drive(one);
    await before.begin('move');
    for (const code of [shelf, codes[0], codes[1], newCode('B')]) await before.scan(code as string);
    // No goodbye: the databases are simply opened again.
    const again = await phone(new FakeServer(), one.name);
    const heard: Told[] = [];
    const driver = drive(again, heard);
    expect((await driver.resume())?.target).toBe(shelf);
    expect(driver.taken.value.map(({ code }) => code)).toEqual([codes[0], codes[1]]);
    expect(driver.round.value?.misfits.map(({ reason }) => reason)).toEqual(['unknown']);
    await driver.scan(codes[0] as string);
    expect(heard.at(-1)?.outcome).toBe('before');
    await driver.scan(codes[2] as string);
    expect(await moved(again)).toHaveLength(3);
  });

  it('knows a scan whose record was stored when the phone died before the round was', async () => {
    const { one, codes, shelf } = await farm(3);
    const driver = drive(one);
    await driver.begin('move');
    await driver.scan(shelf);
    const set = vi.spyOn(one.app.store, 'set').mockImplementation(() => new Promise(() => undefined));
    await driver.scan(codes[0] as string);
    set.mockRestore();
    const later = drive(await phone(new FakeServer(), one.name));
    await later.resume();
    expect(later.taken.value.map(({ code }) => code)).toEqual([codes[0]]);
  });

  it('takes any one line back, and the bag may be scanned again', async () => {
    const { one, codes, batch, lot } = await farm(3);
    const driver = drive(one);
    await driver.begin('inoculate');
    await driver.scan(lot);
    await driver.scan(codes[0] as string);
    await driver.scan(codes[1] as string);
    await driver.scan(codeOf('digit.4'));
    await driver.scan(batch);
    expect(driver.taken.value.map(({ n }) => n)).toEqual([1, 1, 4]);
    const [first, , split] = driver.taken.value;
    await driver.undo(first!);
    expect((await one.app.part(codes[0] as string))?.part.stage).toBe('filled');
    await driver.undo(split!);
    expect((await one.app.batch(batch))?.summary.all.stages['spawn_run']).toBe(1);
    await driver.scan(codes[0] as string);
    expect((await one.app.part(codes[0] as string))?.part.spawn).toBe(lot);
    const resumed = drive(await phone(new FakeServer(), one.name));
    await resumed.resume();
    expect(resumed.taken.value.map(({ code }) => code)).toEqual([codes[1], codes[0]]);
  });

  it('takes 40 twice from one batch: each is a part of its own', async () => {
    const { one, batch, lot } = await farm(1);
    const driver = drive(one);
    await driver.begin('inoculate');
    for (const code of [lot, codeOf('digit.1'), codeOf('digit.5'), batch, codeOf('digit.1'), codeOf('digit.0'), batch]) await driver.scan(code);
    expect(driver.taken.value.map(({ n }) => n)).toEqual([15, 10]);
    expect((await one.app.batch(batch))?.summary.all.stages).toMatchObject({ spawn_run: 25, filled: 16 });
  });

  it('says what could not be stored, and counts nothing', async () => {
    const { one, codes, shelf } = await farm(2);
    const heard: Told[] = [];
    const driver = drive(one, heard);
    await driver.begin('move');
    await driver.scan(shelf);
    vi.spyOn(IDBObjectStore.prototype, 'add').mockImplementation(() => { throw new DOMException('no', 'DataError'); });
    await driver.scan(codes[0] as string);
    expect(heard.at(-1)?.id).toBe('round.misfit.not_saved');
    expect(driver.taken.value).toEqual([]);
    vi.restoreAllMocks();
    await driver.scan(codes[0] as string);
    expect(driver.taken.value).toHaveLength(1);
  });

  it('hands the wish for another purpose to the screen', async () => {
    const { one } = await farm(1);
    const driver = drive(one);
    await driver.begin('move');
    await driver.scan(codeOf('purpose.pick'));
    expect(driver.then.value).toEqual({ purpose: 'pick' });
  });
});
