import { afterEach, describe, expect, it, vi } from 'vitest';
import { Clock } from '../../../client/src/clock';
import { newCode } from '../../../client/src/ids';
import { FakeServer, PAIRING } from './fake-server';
import { type Phone, phone, putAway, settle } from './device';

const DAY_MS = 86_400_000;

/** A batch of two bags, both ended, written today; returns its code and labels. */
async function ended(one: Phone): Promise<[string, string, string]> {
  const [batch, first, second] = [newCode('M'), newCode('B'), newCode('B')];
  await one.app.write([{ ty: 'batch.mixed', sub: [batch], d: { name: `Oak ${batch}`, moisture: 6_000 } }]);
  await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: [first, second], fill_g: 2_400 } }]);
  await one.app.write([{ ty: 'bag.harvested', sub: [first], d: { g: 640, of: [[batch, '']], flush: 1 } }]);
  for (const bag of [first, second]) await one.app.write([{ ty: 'bag.finished', sub: [bag], d: { cause: 'spent' } }]);
  await settle(one);
  return [batch, first, second];
}

/** Everything from here on happens so many days later, on the server and on the phones. */
function later(days: number): void {
  vi.useFakeTimers({ now: Date.now() + days * DAY_MS, toFake: ['Date'] });
}

const lines = (server: FakeServer): any[] => server.calls.filter(({ path }) => path === '/api/sync/lines').map(({ body }) => body);

/** The clock runs on with the days, as one does that nobody sets by hand. */
const clock = (): Clock => new Clock(() => Date.now(), () => Date.now());

afterEach(async () => {
  vi.useRealTimers();
  await putAway();
});

describe('scope', () => {
  it('C5: a batch that ended long ago becomes a summary: Find, labels and sums stay, its lines go', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch, first] = await ended(one);
    const before = await one.app.batch(batch);
    later(61);
    await settle(one);
    const [row] = await one.view.rows([batch]);
    expect(row).toMatchObject({ unit: batch, archived: true, lines: [] });
    expect(JSON.stringify(row).length).toBeLessThan(1_500);
    const view = await one.app.batch(batch);
    expect(view).toMatchObject({ archived: true, name: before?.name, summary: before?.summary });
    expect(Object.keys(view?.parts ?? {}).sort()).toEqual(Object.keys(before?.parts ?? {}).sort());
    expect(view?.parts[first]).toMatchObject({ n: 1, end: 'spent' });
    expect(await one.app.resolve(first)).toEqual({ type: 'part', code: first });
    expect(await one.app.part(first)).toMatchObject({ archived: true, history: [], batch: { code: batch } });
    expect(one.app.find({ batch })[0]).toMatchObject({ n: 2, stage: 'spent' });
    expect(one.app.newCode('B')).not.toBe(first);
    // It was looked at: the next turn that succeeds brings its lines, however many fail before.
    server.down = true;
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBe(true);
    server.down = false;
    await settle(one);
    expect((await one.app.batch(batch))?.archived).toBeUndefined();
    expect(await one.app.batch(batch)).toEqual(before);
  });

  it('C5: who looks at it gets its lines again, and a phone that starts afresh has the same', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch, first] = await ended(one);
    const whole = await one.app.part(first);
    later(61);
    const two = await phone(server, undefined, { ...PAIRING }, clock());
    await settle(two);
    expect((await two.view.rows([batch]))[0]).toMatchObject({ archived: true, lines: [] });
    const changed = two.app.changed.value;
    expect(await two.app.part(first)).toMatchObject({ archived: true });
    await settle(two);
    expect(two.app.changed.value).toBeGreaterThan(changed);
    expect(await two.app.part(first)).toEqual(whole);
    expect(lines(server).map(({ units }) => units)).toEqual([[batch]]);
    expect((await two.view.rows([batch]))[0]?.archived).toBeUndefined();
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBe(true);
    await one.app.part(first);
    await settle(one);
    expect(await one.app.part(first)).toEqual(whole);
  });

  it('C5: a record that touches it makes it whole, and a void lets its bag live again', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch, first] = await ended(one);
    const end = server.log.map(({ text }) => JSON.parse(text)).find(({ ty, sub }) => ty === 'bag.finished' && sub[0] === first);
    later(61);
    await settle(one);
    server.elsewhere({ ty: 'record.voided', sub: [first], d: { target: end.id } });
    await settle(one);
    expect(lines(server)).toHaveLength(1);
    expect(one.app.find({ batch }).map(({ stage, n }) => [stage, n]).sort()).toEqual([['fruiting', 1], ['spent', 1]]);
    expect((await one.view.rows([batch]))[0]?.lines).toHaveLength(6);
    later(1); // and stays: something lives in it
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBeUndefined();
  });

  it('C5: a correction that names no code finds the batch of what it corrects', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch] = await ended(one);
    const pick = server.log.map(({ text }) => JSON.parse(text)).find(({ ty }) => ty === 'bag.harvested');
    later(61);
    await settle(one);
    server.elsewhere({ ty: 'record.voided', sub: [], d: { target: pick.id } });
    await settle(one);
    expect(lines(server).map(({ records, units }) => records ?? units)).toEqual([[pick.id], [batch]]);
    expect((await one.app.batch(batch))?.summary.all.g).toBe(0);
  });

  it('a trolley that goes to and fro fetches nothing of what ended on it', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [trolley, room] = [newCode('P'), newCode('P')];
    const [batch, bag] = [newCode('M'), newCode('B')];
    await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: [bag], fill_g: 2_400 } }]);
    await one.app.write([{ ty: 'bag.moved', sub: [bag], d: { to: trolley } }]);
    const stood = Date.now() + 50;
    await new Promise((done) => { setTimeout(done, 100); });
    await one.app.write([{ ty: 'bag.finished', sub: [bag], d: { cause: 'sold' } }]);
    await settle(one);
    later(61);
    await settle(one);
    server.elsewhere({ ty: 'place.moved', sub: [trolley], d: { to: room } });
    server.elsewhere({ ty: 'bag.checked', sub: [trolley], d: {} });
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBe(true);
    expect(lines(server)).toEqual([]);
    // Said of the time when the bag stood there, it is of that bag, too.
    server.elsewhere({ ty: 'bag.checked', sub: [trolley], d: {}, on: { ms: stood, p: 'm' } });
    await settle(one);
    expect(lines(server)).toHaveLength(1);
  });

  it('own records of it wait beside the summary, and it is not archived under them', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch, first] = await ended(one);
    later(61);
    await settle(one);
    await one.app.write([{ ty: 'note.written', sub: [batch], d: { text: 'late' } }]);
    await one.app.write([{ ty: 'note.written', sub: [first], d: { text: 'late too' } }]);
    expect(await one.app.batch(batch)).toMatchObject({ archived: true, summary: { all: { bags: 2 } } });
    expect(one.app.find({ batch })[0]?.n).toBe(2);
    expect(one.app.held.value).toEqual([]);
    await settle(one);
    expect((await one.app.part(first))?.history.map(({ line }) => line.d?.['text'])).toContain('late too');
    expect((await one.view.rows([batch]))[0]?.lines).toHaveLength(7);
  });

  it('asks again for what did not fit into one answer', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const batches = [(await ended(one))[0], (await ended(one))[0], (await ended(one))[0]];
    later(61);
    await settle(one);
    server.mostUnits = 1;
    for (const batch of batches) server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: 'x' } });
    await settle(one);
    expect(lines(server).map(({ units }) => units.length)).toEqual([3, 2, 1]);
    expect((await one.view.rows(batches)).map(({ lines: its }) => its.length)).toEqual([6, 6, 6]);
  });

  it.each(['html', 'drop', 503, 'other-farm', 'replay', 'cut'] as const)('keeps its cursor and its summary when %s comes in place of the lines', async (fault) => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, clock());
    const [batch] = await ended(one);
    later(61);
    await settle(one);
    server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: 'x' } });
    const cursor = await one.view.cursor();
    server.onAnswer = () => { server.faults = [fault]; };
    await settle(one);
    expect(await one.view.cursor()).toEqual(cursor);
    expect((await one.view.rows([batch]))[0]?.archived).toBe(true);
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.lines).toHaveLength(6);
  });

  it('without a time it can trust a phone lets go of nothing', async () => {
    const server = new FakeServer();
    const one = await phone(server, undefined, undefined, new Clock());
    const [batch] = await ended(one);
    // Somebody set the wall clock by hand, and the answers tell no time.
    later(61);
    server.skew = NaN;
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBeUndefined();
    // They tell it again: it is still today.
    server.skew = -61 * DAY_MS;
    await settle(one);
    expect((await one.view.rows([batch]))[0]?.archived).toBeUndefined();
  });
});
