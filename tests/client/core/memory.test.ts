/** The phones are the farm's second memory: what any of them keeps comes back after the server was put back (P4, P8). */
import { describe, expect, it, vi } from 'vitest';
import { newCode } from '../../../client/src/ids';
import { FakeServer } from './fake-server';
import { phone, settle, waiting, type Phone } from './device';

const batch = newCode('M');

const note = (one: Phone, text = 'x') => one.app.write([{ ty: 'note.written', sub: [batch], d: { text } }]);
const born = (one: Phone, bag: string) => one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: [bag], fill_g: 2_400 } }]);
const receipts = (server: FakeServer): string[] => server.log.map(({ receipt }) => receipt);
const keptIds = async (one: Phone): Promise<string[]> => (await one.others.all()).map(([, , receipt]) => (JSON.parse(receipt) as { id: string }).id);

/** Two phones that wrote one record each, and have each other's. */
async function pair(server: FakeServer): Promise<[Phone, Phone]> {
  const [one, two] = [await phone(server), await phone(server)];
  await born(one, newCode('B'));
  await settle(one);
  await settle(two);
  await born(two, newCode('B'));
  await settle(two);
  await settle(one);
  return [one, two];
}

describe('others\u2019 records', () => {
  it('P4: one phone brings back what another wrote, with the receipts it had', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    const before = receipts(server);
    server.rewind(0, 'e00000000002');
    await settle(one);
    expect(receipts(server).sort()).toEqual(before.sort());
    expect(await waiting(one)).toEqual([]);
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(2);
  });

  it('P4: those behind a snapshot, too, are read through and brought back', async () => {
    const server = new FakeServer();
    for (let i = 0; i < 30; i += 1) server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: `${i}` } });
    const one = await phone(server);
    await settle(one);
    expect(await keptIds(one)).toEqual(server.ids());
    const before = receipts(server);
    server.rewind(4, 'e00000000002');
    await settle(one);
    expect(receipts(server).slice(4).sort()).toEqual(before.slice(4).sort());
    // Old copies go once the present log was read through; nothing is kept twice.
    await settle(one);
    expect((await keptIds(one)).sort()).toEqual([...server.ids()].sort());
  });

  it('offers go by the receipt\u2019s id: both texts under one id come back', async () => {
    const server = new FakeServer();
    const id = '00000000-0000-7000-9000-00000000aaaa';
    server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: 'first' }, id });
    server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: 'second' }, id });
    expect(new Set(receipts(server)).size).toBe(2);
    const one = await phone(server);
    await settle(one);
    const before = receipts(server);
    server.rewind(0, 'e00000000002');
    await settle(one);
    expect(receipts(server).sort()).toEqual(before.sort());
  });

  it('are kept until two good backups hold them, and not a moment less', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    expect(await keptIds(one)).toHaveLength(1);
    server.durable = 1;
    await settle(one);
    expect(await keptIds(one)).toHaveLength(1);
    server.durable = 2;
    await settle(one);
    expect(await keptIds(one)).toEqual([]);
    // Own ones stay longer: the newest 5,000 whatever lies in backups.
    expect(await one.outbox.newest(10)).toHaveLength(1);
  });

  it('one that the server cannot take now is offered again later, and is not let go meanwhile', async () => {
    const server = new FakeServer();
    const [one, two] = await pair(server);
    const [theirs] = (await two.outbox.newest(1)).map(({ id }) => id);
    server.rewind(0, 'e00000000002');
    server.words.set(theirs!, 'later');
    await settle(one);
    expect(server.ids()).not.toContain(theirs);
    server.words.clear();
    await settle(one);
    expect(server.ids()).not.toContain(theirs); // it waits a minute before it tries again
    vi.useFakeTimers({ now: Date.now() + 61_000, toFake: ['Date'] });
    try {
      await settle(one);
    } finally {
      vi.useRealTimers();
    }
    expect(server.ids()).toContain(theirs);
  });
});

describe('a log that was put back', () => {
  it('a phone not confirmed yet pushes and offers, does not pull, and says so', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    server.rewind(1, 'e00000000002');
    server.unconfirmed = true;
    await note(one);
    await settle(one);
    expect(server.log).toHaveLength(3);
    expect(await waiting(one)).toEqual([]);
    expect(one.app.link.value.state).toBe('unconfirmed');
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(2);
    server.unconfirmed = false;
    await settle(one);
    expect(one.app.link.value.state).toBe('ok');
    expect((await one.view.cursor())?.epoch).toBe('e00000000002');
  });

  it('an epoch that was left before means two servers: it says so, keeps all, and finds back by itself', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    const other = server.log;
    server.rewind(1, 'e00000000002');
    await settle(one);
    const mine = server.log;
    [server.log, server.epoch] = [other, 'e00000000001'];
    await note(one);
    const cursor = await one.view.cursor();
    await settle(one);
    expect(one.app.link.value.state).toBe('two_servers');
    expect(await waiting(one)).toHaveLength(1);
    expect(await one.view.cursor()).toEqual(cursor);
    [server.log, server.epoch] = [mine, 'e00000000002'];
    await settle(one);
    expect(one.app.link.value.state).toBe('ok');
    expect(await waiting(one)).toEqual([]);
  });

  it('a reset that answers another request is a replay, however well it is MACed', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    server.rewind(1, 'e00000000002');
    let said = '';
    const fetching = server.fetch;
    server.fetch = async (url, init) => {
      const reply = await fetching(url, init);
      said ||= reply.status === 409 ? await reply.clone().text() : '';
      return reply;
    };
    await settle(one);
    expect(said).toContain('"reset"');
    const mark = await one.outbox.get('log');
    server.fetch = async () => new Response(said.replaceAll('e00000000002', 'e00000000002'), { status: 409, headers: { 'content-type': 'application/json' } });
    await settle(one);
    expect(await one.outbox.get('log')).toEqual(mark);
    expect(one.app.link.value.state).toBe('portal');
  });

  it('an acknowledgement that was under way when the log was put back does not count', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    const tab = await phone(server, one.name);
    const [mine] = await note(one);
    // The answer is held back; meanwhile the log is put back and the other tab is told.
    server.onAnswer = () => { server.rewind(1, 'e00000000002'); };
    let late: (() => void) | null = null;
    const fetching = server.fetch;
    let first = true;
    let offline = false;
    server.fetch = async (url, init) => {
      // The other tab hears of the reset and offers, but its push of the same record fails.
      if (offline && url.startsWith('/api/sync/push') && server.calls.some(({ path }) => path === '/api/sync/offer')) throw new TypeError('Failed to fetch');
      const reply = await fetching(url, init);
      if (first && url.startsWith('/api/sync/push')) {
        first = false;
        await new Promise<void>((done) => { late = done; });
      }
      return reply;
    };
    const running = settle(one);
    await vi.waitFor(() => expect(late).not.toBeNull());
    await tab.outbox.set('lease', { owner: '', until: 0 }); // as where neither locks nor the lease hold
    offline = true;
    await settle(tab);
    offline = false;
    expect(server.ids()).not.toContain(mine!.id);
    late!();
    await running;
    await settle(one);
    expect(server.ids()).toContain(mine!.id);
    expect(await waiting(one)).toEqual([]);
  });

  it('epochs put between others by what came back bring a fresh snapshot', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    server.rewind(1, 'e00000000003');
    await settle(one);
    server.epochs = ['e00000000001', 'e00000000002', 'e00000000003'];
    const snapshots = (): number => server.calls.filter(({ path }) => path.startsWith('/api/sync/snapshot')).length;
    const before = snapshots();
    await settle(one);
    expect(snapshots()).toBe(before + 1);
    expect((await one.view.cursor())?.epochs).toEqual(server.epochs);
    await settle(one);
    expect(snapshots()).toBe(before + 1);
  });

  it('a page that does not follow on the chain is not taken', async () => {
    const server = new FakeServer();
    const [one] = await pair(server);
    const cursor = await one.view.cursor();
    server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: 'true' } });
    const fetching = server.fetch;
    server.fetch = async (url, init) => {
      const reply = await fetching(url, init);
      return new Response((await reply.text()).replaceAll('true\\\\\\"', 'false\\\\\\"').replaceAll('\\"true\\"', '\\"false\\"'), { status: reply.status, headers: { 'content-type': 'application/json' } });
    };
    await settle(one);
    expect(await one.view.cursor()).toEqual(cursor);
    server.fetch = fetching;
    await settle(one);
    expect((await one.view.cursor())?.pos).toBe(server.log.length);
  });
});

/**
 * Phones write, sync, lose requests and answers; the log is put back to earlier places. In the end everything that
 * any phone kept is on the log once, and all phones show the same.
 */
describe('a farm with bad luck', () => {
  const runs = process.env['BAGTRAIL_LONG'] === '1' ? 200 : 12;
  it.each(Array.from({ length: runs }, (_, seed) => seed))('seed %i: nothing is lost, nothing counts twice', async (seed) => {
    const random = mulberry(seed);
    const pick = (n: number): number => Math.floor(random() * n);
    const server = new FakeServer();
    const phones: Phone[] = [];
    for (let i = 0; i < 3; i += 1) phones.push(await phone(server));
    const written = new Set<string>();
    let epoch = 1;
    for (let step = 0; step < 40; step += 1) {
      const one = phones[pick(3)]!;
      const what = pick(10);
      if (what < 4) (await note(one, `${step}`)).forEach(({ id }) => written.add(id));
      else if (what < 8) await settle(one);
      else if (what === 8) server.faults.push(...(['drop', 'drop-after', 'html', 'cut', 503, 'replay'] as const).slice(pick(6)).slice(0, 1 + pick(2)));
      else if (random() < 0.5) server.rewind(pick(server.log.length + 1), `e${String((epoch += 1)).padStart(11, '0')}`);
    }
    server.faults = [];
    for (let round = 0; round < 3; round += 1) for (const one of phones) await settle(one);
    for (const one of phones) {
      expect(one.app.link.value.state).toBe('ok');
      expect(await waiting(one)).toEqual([]);
    }
    expect(new Set(server.ids()).size).toBe(server.log.length);
    expect([...written].filter((id) => !server.ids().includes(id))).toEqual([]);
    const rows = await Promise.all(phones.map(async ({ view }) => JSON.stringify((await view.rows([batch])).map((row) => row.lines))));
    expect(new Set(rows).size).toBe(1);
  });
});

function mulberry(seed: number): () => number {
  let a = (seed + 1) * 0x9e3779b9;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

