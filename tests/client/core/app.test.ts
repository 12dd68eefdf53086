import { afterEach, describe, expect, it, vi } from 'vitest';
import { createApp } from '../../../client/src/app';
import { FARM, Farm, ROW_VERSION } from '../../../client/src/fold';
import { language } from '../../../client/src/i18n';
import { FindIndex } from '../../../client/src/findindex';
import { findRowOf, type FindRow } from '../../../client/src/findrow';
import { checkSymbol, newCode } from '../../../client/src/ids';
import { lineFrom, type Line } from '../../../client/src/line';
import { View, VIEW_VERSION } from '../../../client/src/db';
import { Outbox } from '../../../client/src/outbox';
import { Puller, type Pulled } from '../../../client/src/pull';
import { stored } from '../../../client/src/rowtext';
import { FakeServer, PAIRING } from './fake-server';
import { phone, settle, waiting } from './device';

afterEach(() => vi.restoreAllMocks());

const DAY = 86_400_000;
const code = (letter: string, i: number): string => {
  const body = letter + i.toString(10).padStart(7, '0');
  return body + checkSymbol(body);
};

describe('writing', () => {
  it('draws on nothing but what is stored: a failed transaction shows nothing', async () => {
    const one = await phone(new FakeServer());
    vi.spyOn(IDBObjectStore.prototype, 'add').mockImplementation(() => { throw new DOMException('no', 'DataError'); });
    await expect(one.app.write([{ ty: 'bag.filled', sub: [newCode('M')], d: { n: 3 } }])).rejects.toMatchObject({ code: 'storage' });
    expect(one.app.lastAct.value).toBeNull();
    expect(one.app.unsent.value.count).toBe(0);
    expect(one.app.find({ text: 'M' })).toEqual([]);
  });

  it('gives up the view for a record when the device is full', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const batch = newCode('M');
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { n: 3 } }]);
    await settle(one);
    const real = IDBObjectStore.prototype.add;
    let n = 0;
    vi.spyOn(IDBObjectStore.prototype, 'add').mockImplementation(function full(this: IDBObjectStore, ...args) {
      n += 1;
      if (n === 1) throw new DOMException('full', 'QuotaExceededError');
      return real.apply(this, args);
    });
    await one.app.write([{ ty: 'note.written', sub: [batch], d: { text: 'kept' } }]);
    expect(await waiting(one)).toHaveLength(1);
    expect(await one.view.cursor()).toBeUndefined();
    vi.restoreAllMocks();
    await settle(one);
    expect(server.log).toHaveLength(2);
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(3);
  });

  it('lays aside what the server refused: it neither counts nor asks here, and stays in the file', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const batch = newCode('M');
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { n: 3 } }]);
    await settle(one);
    const [note] = await one.app.write([{ ty: 'group.corrected', sub: [`g-${server.ids()[0]}`], d: { by: 2, why: 'counted again' } }]);
    server.words.set(note!.id, 'big');
    await settle(one);
    expect(one.app.held.value.map(({ id, why }) => [id, why])).toEqual([[note!.id, 'big']]);
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(5);
    const desk = await one.app.desk();
    expect(await desk.came(note!.id)).toContain('counted again');
    await desk.layAside(note!.id);
    await vi.waitFor(() => expect(one.app.held.value).toEqual([]));
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(3);
    const { file, all } = await desk.toFile();
    expect([all, (await file.text()).includes(note!.id)]).toEqual([2, true]);
    await desk.layAside(server.ids()[0]!); // what the server has is no business of this
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(3);
  });

  it('refuses what breaks its schema, with the field, and writes none of the act', async () => {
    const one = await phone(new FakeServer());
    const good = { ty: 'bag.filled', sub: [newCode('M')], d: { n: 3 } };
    for (const [draft, field] of [
      [{ ty: 'bag.moved', sub: [newCode('B')], d: {} }, 'to'],
      [{ ty: 'bag.moved', sub: [], d: { to: newCode('P') } }, 'sub'],
      [{ ty: 'bag.weighed', sub: [newCode('B')], d: { g: 1.5, when: 'cooled' } }, 'g'],
      [{ ty: 'bag.flown', sub: [], d: {} }, 'ty'],
    ] as const) {
      await expect(one.app.write([good, draft as never])).rejects.toMatchObject({ code: 'schema', details: { field } });
    }
    expect(await waiting(one)).toEqual([]);
  });

  it('fills in the shorthands and binds an act together', async () => {
    const one = await phone(new FakeServer());
    const [batch, tag, shelf] = [newCode('M'), newCode('G'), newCode('P')];
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { n: 60, to: [tag] } }]);
    const [split, moved] = await one.app.write([
      { ty: 'group.split', sub: [tag], d: { n: 20 } }, { ty: 'bag.moved', sub: ['g-@0'], d: { to: shelf } },
    ]);
    expect(moved!.s).toEqual([`g-${split!.id}`]);
    expect(split!.g).toBe(moved!.g);
    expect((await one.app.part(`g-${split!.id}`))?.part).toMatchObject({ n: 20, place: shelf, up: tag });
    expect((await one.app.part(tag))?.part).toMatchObject({ n: 40, place: null });
    const [strain] = await one.app.write([{ ty: 'strain.named', sub: ['strain'], d: { name: 'Fen 4' } }]);
    await one.app.part(tag);
    expect(one.app.ref.value.strains[`strain-${strain!.id}`]?.name).toBe('Fen 4');
  });

  it('puts a stated time where the kind takes it', async () => {
    const one = await phone(new FakeServer());
    const on = { ms: Date.now() - DAY, p: 'd' as const };
    const [filled, moved] = [
      (await one.app.write([{ ty: 'bag.filled', sub: [newCode('M')], d: { n: 1 }, on }]))[0]!,
      (await one.app.write([{ ty: 'bag.moved', sub: [newCode('B')], d: { to: newCode('P') }, on }]))[0]!,
    ];
    expect(filled.d?.['was']).toEqual(on);
    expect(filled.o).toBeUndefined();
    expect([moved.t, moved.o]).toEqual([on.ms, 'd']);
  });

  it('undoes the last act whole, then the one before, and no undo', async () => {
    const one = await phone(new FakeServer());
    const [batch, tag, shelf] = [newCode('M'), newCode('G'), newCode('P')];
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { n: 60, to: [tag] } }]);
    await one.app.write([{ ty: 'bag.moved', sub: [tag], d: { to: shelf } }]);
    await one.app.write([{ ty: 'group.split', sub: [tag], d: { n: 20 } }, { ty: 'bag.opened', sub: ['g-@0'], d: { how: 'slit' } }]);
    expect((await one.app.batch(batch))?.summary.all.stages).toEqual({ filled: 40, fruiting: 20 });
    expect((await one.app.undo())?.k).toBe('record.voided');
    expect(one.app.lastAct.value?.voided).toBe(true);
    expect((await one.app.batch(batch))?.summary.all.stages).toEqual({ filled: 60 });
    await one.app.undo();
    expect((await one.app.part(tag))?.part.place).toBeNull();
    expect((await one.app.part(tag))?.history.filter((row) => row.voided).map((row) => row.line.k)).toEqual(['group.split', 'bag.moved']);
    await one.app.undo();
    expect(await one.app.undo()).toBeNull();
  });

  it('undoes what an earlier session sent', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const [batch, bag, shelf] = [newCode('M'), newCode('B'), newCode('P')];
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: [bag] } }]);
    await one.app.write([{ ty: 'bag.moved', sub: [bag], d: { to: shelf } }]);
    await settle(one);
    await one.app.stop();
    const again = await phone(server, one.name);
    expect((await again.app.undo())?.d).toMatchObject({ target: server.log[1]!.id });
    expect((await again.app.part(bag))?.part.place).toBeNull();
    await settle(again);
    expect((await again.app.part(bag))?.part.place).toBeNull();
    expect((await again.app.undo())?.d).toMatchObject({ target: server.log[0]!.id });
  });

  it('names batches by day, device and counter, never twice', async () => {
    const one = await phone(new FakeServer());
    const name = one.app.newName();
    expect(name).toMatch(/^\d{1,2} [A-Z][a-z]{2,3} A1$/);
    await one.app.write([{ ty: 'batch.mixed', sub: [newCode('M')], d: { name } }]);
    await one.app.batch(newCode('M'));
    expect(one.app.newName()).toBe(name.replace('A1', 'A2'));
  });

  it('names a batch in the language of the phone', async () => {
    const one = await phone(new FakeServer());
    vi.useFakeTimers({ now: Date.UTC(2026, 10, 25, 9), toFake: ['Date'] });
    try {
      for (const [lang, name] of [['en-GB', '25 Nov A1'], ['es', '25 nov A1'], ['zh-CN', '11月25日 A1']] as const) {
        language.value = lang;
        expect(one.app.newName()).toBe(name);
      }
    } finally {
      language.value = 'en-GB';
      vi.useRealTimers();
    }
  });

  it('pairs, keeps its stream when it pairs again, and takes no other farm while records wait', async () => {
    const server = new FakeServer();
    const app = createApp({ fetch: server.fetch, outbox: new Outbox('p-outbox'), view: new View('p-view'), quiet: true });
    await app.start();
    expect(app.device.value).toBeNull();
    await expect(app.write([{ ty: 'farm.named', sub: [], d: { name: 'X', zone: 'UTC' } }])).rejects.toMatchObject({ code: 'not_paired' });
    await app.pair('ABCD1234', 'Shed phone');
    expect(app.device.value).toMatchObject({ dev: PAIRING.dev, role: 'owner', farm: PAIRING.farm, letter: 'A' });
    await app.write([{ ty: 'bag.filled', sub: [newCode('M')], d: { n: 1 } }]);
    const other = { ...PAIRING, farm: 'fother', k: 'pair1' };
    vi.spyOn(server as unknown as { answer: () => unknown }, 'answer').mockReturnValue({ status: 200, body: other });
    await expect(app.pair('ABCD1234', 'Shed phone')).rejects.toMatchObject({ code: 'other_farm' });
    expect(app.device.value?.farm).toBe(PAIRING.farm);
    expect(app.unsent.value.count).toBe(1);
  });
});

describe('the view', () => {
  it('never moves its cursor without its rows, wherever it is cut', async () => {
    const log = Array.from({ length: 6 }, (_, i): Pulled => {
      const id = `00000000-0000-7000-8000-${String(i + 1).padStart(12, '0')}`;
      const record = {
        v: 1, id, dev: 'd0000000000000000', gen: 1, st: 'a000000000000000', sq: i + 1, at: 1_000 + i, tv: 1, base: '', by: '',
        ...(i ? { ty: 'bag.moved', sub: [code('B', 1)], d: { to: code('P', i) } } : { ty: 'bag.filled', sub: [code('M', 1)], d: { to: [code('B', 1)] } }),
      };
      return [JSON.stringify(record), '', JSON.stringify({ id, h: '', e: 'e1', p: i + 1, t: 1_000 + i, q: 'sync', f: '', a: 'o', dev: record.dev }), '', i + 1];
    });
    const at = (pos: number) => ({ epoch: 'e1', pos, h: '', epochs: [] });
    for (let cut = 1; ; cut += 1) {
      const view = new View(`cut-${cut}`);
      await view.replace({ rows: [], gone: [], lines: [] }, at(0));
      await new Puller(view).page(log.slice(0, 3), at(0), at(3));
      let n = 0;
      const real = { put: IDBObjectStore.prototype.put, get: IDBObjectStore.prototype.get };
      const spies = (['put', 'get'] as const).map((name) => vi.spyOn(IDBObjectStore.prototype, name).mockImplementation(function cutOff(this: IDBObjectStore, ...args: any[]): any {
        n += 1;
        if (n === cut) throw new DOMException('cut', 'DataError');
        return (real[name] as (...a: unknown[]) => unknown).apply(this, args);
      }));
      const done = await new Puller(view).page(log.slice(3), at(3), at(6)).then(() => true, () => false);
      spies.forEach((spy) => spy.mockRestore());
      const pos = (await view.cursor())?.pos;
      const [row] = await view.rows([code('M', 1)]);
      expect([pos, row!.lines.length]).toEqual(done ? [6, 6] : [3, 3]);
      await view.close();
      if (done && n < cut) {
        expect(cut).toBeGreaterThan(8);
        break;
      }
    }
  });

  it('A13: a change of versions and back finds a view each; older ones go once ours is whole', async () => {
    const left = (name: string, at: number) => new Promise<void>((done) => {
      const open = indexedDB.open(name, at);
      open.onsuccess = () => { open.result.close(); done(); };
    });
    await left('turn', 1);
    await left('turn-7', 1);
    await left('turn-90001', 3);
    const view = new View('turn');
    await view.replace({ rows: [], gone: [], lines: [] }, { epoch: 'e1', pos: 0, h: '', epochs: [] });
    await new Puller(view).snapshot([], { epoch: 'e1', pos: 5, h: '', epochs: [] });
    expect((await view.cursor())?.pos).toBe(5);
    const names = async () => (await indexedDB.databases()).map(({ name }) => name).filter((name) => name?.startsWith('turn')).sort();
    await vi.waitFor(async () => expect(await names()).toEqual([`turn-${VIEW_VERSION}`, 'turn-90001']));
    await view.close();
  });

  it('starts with 20,000 bags without reading their rows', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const rows = manyRows(200, 100);
    const farm = new Farm();
    await one.view.replace({
      rows: rows.map(({ row, find }) => ({ row: stored(row), find })).concat({ row: stored(farm.row(FARM)), find: findRowOf(farm.unit(FARM), [], farm) }),
      gone: [], lines: [],
    }, { epoch: 'e1', pos: 1, h: '0'.repeat(32), epochs: [] });
    await one.app.stop();
    const read = vi.spyOn(View.prototype, 'rows');
    const again = await phone(server, one.name);
    const asked = await again.app.part(code('B', 1_234));
    expect(asked?.part.stage).toBe('filled');
    expect(again.app.indexReady.value).toBe(true);
    expect(again.app.find({}).reduce((n, row) => n + row.n, 0)).toBe(20_000);
    expect(read.mock.calls.flatMap(([units]) => units)).toEqual([FARM, '?', code('M', 12)]);
  });
});

describe('find', () => {
  const index = new FindIndex();
  index.store(manyRows(500, 100).map(({ find }) => find));
  const names = {
    places: { [code('P', 3)]: { name: 'Rack 2, left' } }, strains: { [`strain-${uuid(1)}`]: { name: 'Fen 4' } },
  };

  it('finds by batch, strain, place, stage, age, contamination, number and code', () => {
    const n = (query: Parameters<FindIndex['find']>[0]): number => index.find(query, names, NOW).reduce((sum, row) => sum + row.n, 0);
    expect(n({})).toBe(50_000);
    expect(n({ batch: code('M', 7) })).toBe(100);
    expect(n({ text: '24 nov a7' })).toBe(100 + 10 * 100 + 0);
    expect(n({ place: code('P', 3) })).toBe(5_000);
    expect(n({ text: 'rack 2' })).toBe(5_000);
    expect(n({ strain: `strain-${uuid(1)}` })).toBe(25_000);
    expect(n({ text: 'fen' })).toBe(25_000);
    expect(n({ stage: 'spawn_run', bad: true })).toBe(n({ bad: true }));
    expect(n({ minAgeDays: 10 })).toBe(n({}) - index.find({}, names, NOW).filter((row) => row.since > NOW - 10 * DAY).reduce((sum, row) => sum + row.n, 0));
    const [exact] = index.find({ text: code('B', 4_242).toLowerCase() }, names, NOW);
    expect(exact).toMatchObject({ batch: code('M', 42), codes: [code('B', 4_242)], n: 1 });
    expect(index.find({ text: 'no such thing' }, names, NOW)).toEqual([]);
    expect(index.find({ text: 'A17', batch: code('M', 7) }, names, NOW)).toMatchObject([{ n: 1, codes: [code('B', 717)] }]);
  });

  it('says what stands at a place, and in the places inside it', () => {
    const places = { [code('P', 3)]: { name: 'Rack', within: code('P', 99) }, [code('P', 4)]: { name: 'Shelf', within: code('P', 3) } };
    expect(index.standing(code('P', 3)).reduce((n, row) => n + row.n, 0)).toBe(5_000);
    expect(index.inside(code('P', 99), places)).toMatchObject([{ code: code('P', 3), n: 10_000 }]);
  });
});

const NOW = 1_764_000_000_000 + 30 * DAY;

function uuid(i: number): string {
  return `00000000-0000-7000-8000-${String(i).padStart(12, '0')}`;
}

/** Batches of labelled bags, folded for real: batch i holds bags 100 i to 100 i + 99. */
function manyRows(batches: number, bags: number): { row: ReturnType<Farm['row']>; find: FindRow }[] {
  let n = 0;
  const line = (ty: string, sub: string[], d: Record<string, unknown>, at: number): Line => {
    n += 1;
    return lineFrom({ v: 1, id: uuid(n), dev: 'd0', gen: 1, st: 'a000000000000000', sq: n, at, ty, tv: 1, sub, base: '', by: '', d },
      { id: uuid(n), h: '', e: 'e1', p: n, t: at, q: 'sync', f: '', a: 'o', dev: 'd0' }, n, '-');
  };
  return Array.from({ length: batches }, (_, i) => {
    const [farm, at] = [new Farm(), 1_764_000_000_000 + i * 3_600_000];
    const [batch, labels] = [code('M', i), Array.from({ length: bags }, (_, j) => code('B', i * bags + j))];
    farm.add(line('batch.mixed', [batch], { name: `24 Nov A${i}` }, at));
    farm.add(line('bag.filled', [batch], { to: labels, first: 'A0', place: code('P', i % 10) }, at + 1));
    if (i % 2) farm.add(line('bag.inoculated', [batch], { strain: `strain-${uuid(1)}` }, at + 2));
    if (i % 50 === 1) farm.add(line('bag.contaminated', [labels[0] as string], { sign: 'cobweb', where: 'top', kept: 'kept_apart' }, at + 3));
    const row = farm.row(batch);
    expect(row.v).toBe(ROW_VERSION);
    return { row, find: findRowOf(farm.unit(batch), row.lines, farm) };
  });
}
