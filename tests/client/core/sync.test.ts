import { afterEach, describe, expect, it, vi } from 'vitest';
import { Clock } from '../../../client/src/clock';
import { newCode } from '../../../client/src/ids';
import { FakeServer, PAIRING } from './fake-server';
import { type Phone, phone, putAway, settle, waiting } from './device';

const batch = newCode('M');

async function born(one: Phone, ...labels: string[]): Promise<void> {
  await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: labels, fill_g: 2_400 } }]);
}

const move = (one: Phone, bag: string, to: string) => one.app.write([{ ty: 'bag.moved', sub: [bag], d: { to } }]);

afterEach(putAway);

describe('sync', () => {
  it('sends everything once, pulls it back, and the second phone has the same bags', async () => {
    const server = new FakeServer();
    const [one, bag, shelf] = [await phone(server), newCode('B'), newCode('P')];
    await born(one, bag);
    await move(one, bag, shelf);
    expect(one.app.unsent.value.count).toBe(2);
    await settle(one);
    expect(one.app.unsent.value).toEqual({ count: 0, oldest: null });
    expect(server.log).toHaveLength(2);
    expect(one.app.link.value.state).toBe('ok');
    const two = await phone(server, undefined, { ...PAIRING });
    await settle(two);
    expect((await two.app.part(bag))?.part).toMatchObject({ place: shelf, stage: 'filled' });
    expect(await two.app.part(bag)).toEqual(await one.app.part(bag));
    expect(two.app.find({ batch })[0]).toMatchObject({ n: 1, place: shelf, codes: [bag] });
  });

  it.each(['html', 'empty', 'drop', 'drop-after', 'other-farm', 'replay', 'cut', 500, 502, 503, 401, 403, 404, 511] as const)(
    'marks nothing after %s, and sends it all once when that is over', async (fault) => {
      const server = new FakeServer();
      const one = await phone(server);
      await born(one, newCode('B'));
      await settle(one);
      const cursor = await one.view.cursor();
      await born(one, newCode('B'), newCode('B'));
      server.faults = [fault];
      const before = await waiting(one);
      await settle(one);
      expect(await waiting(one)).toEqual(before);
      expect(one.app.unsent.value.count).toBe(1);
      expect(one.app.link.value.state).not.toBe('ok');
      expect(await one.view.cursor()).toEqual(cursor);
      await settle(one);
      expect(await waiting(one)).toEqual([]);
      expect(new Set(server.ids()).size).toBe(server.log.length);
      expect(server.log).toHaveLength(2);
    },
  );

  it.each(['html', 'empty', 'drop', 'other-farm', 'replay', 'cut', 500, 401, 404] as const)('does not move its cursor when a pull answers %s', async (fault) => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    await settle(one);
    const cursor = await one.view.cursor();
    server.elsewhere({ ty: 'bag.filled', sub: [batch], d: { n: 3 } });
    server.faults = [fault];
    await settle(one);
    expect(await one.view.cursor()).toEqual(cursor);
    await settle(one);
    expect((await one.view.cursor())?.pos).toBe(2);
    expect((await one.app.batch(batch))?.summary.all.bags).toBe(4);
  });

  it('says what answers instead of the farm: a sign-in page, nobody, the server refusing', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    const states: string[] = [];
    for (const fault of ['html', 'drop', 401] as const) {
      server.faults = [fault];
      await settle(one);
      states.push(one.app.link.value.state);
    }
    expect(states).toEqual(['portal', 'silent', 'unpaired']);
    expect(await waiting(one)).toHaveLength(1);
  });

  it('halves a batch that is too big, and sets aside the one record that alone is', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    for (let i = 0; i < 9; i += 1) await one.app.write([{ ty: 'note.written', sub: [batch], d: { text: 'x'.repeat(i === 4 ? 1_900 : 100) } }]);
    server.most = 2_300;
    for (let i = 0; i < 12; i += 1) await settle(one);
    expect(server.log).toHaveLength(9);
    expect(one.app.unsent.value.count).toBe(0);
    expect(one.app.held.value.map(({ why }) => why)).toEqual(['big']);
    expect(await one.outbox.newest(100)).toHaveLength(10);
  });

  it('keeps what the server cannot store now, and what is behind it goes on', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    await born(one, newCode('B'));
    const [first] = await waiting(one);
    server.later.add(first!);
    await settle(one);
    expect(await waiting(one)).toEqual([first]);
    expect(server.log).toHaveLength(1);
    server.later.clear();
    await settle(one);
    expect(server.log).toHaveLength(2);
  });

  it('keeps to Retry-After, whoever asks for haste', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    server.faults = [503];
    server.headers = { 'Retry-After': '60' };
    await settle(one);
    const calls = server.calls.length;
    await settle(one);
    expect(server.calls).toHaveLength(calls);
    vi.useFakeTimers({ now: Date.now() + 95_000, toFake: ['Date'] });
    try {
      await settle(one);
    } finally {
      vi.useRealTimers();
    }
    expect(server.log).toHaveLength(1);
  });

  it('offers everything again when the server was put back, with the receipts it had', async () => {
    const server = new FakeServer();
    const [one, bag, shelf] = [await phone(server), newCode('B'), newCode('P')];
    await born(one, bag);
    await settle(one);
    await move(one, bag, shelf);
    await settle(one);
    const receipts = server.log.map(({ receipt }) => receipt);
    server.rewind(1, 'e00000000002');
    server.elsewhere({ ty: 'place.named', sub: [shelf], d: { name: 'Rack 2', type: 'rack' } });
    await settle(one);
    expect(new Set(server.log.map(({ receipt }) => receipt).filter((receipt) => receipts.includes(receipt))).size).toBe(2);
    expect(one.app.ref.value.places[shelf]?.name).toBe('Rack 2');
    expect((await one.app.part(bag))?.part.place).toBe(shelf);
    expect((await one.view.cursor())?.epoch).toBe('e00000000002');
    expect(await waiting(one)).toEqual([]);
  });

  it('shows the old state until the new snapshot is there', async () => {
    const server = new FakeServer();
    const [one, bag] = [await phone(server), newCode('B')];
    await born(one, bag);
    await settle(one);
    server.rewind(0, 'e00000000002');
    server.elsewhere({ ty: 'farm.named', sub: [], d: { name: 'X', zone: 'UTC' } });
    let seen = 0;
    const fetching = server.fetch;
    server.fetch = async (url, init) => {
      if (url.startsWith('/api/sync/snapshot')) {
        seen += 1;
        expect((await one.view.rows([batch])).length).toBe(1);
        expect(one.app.find({ batch })).toHaveLength(1);
      }
      return fetching(url, init);
    };
    await settle(one);
    expect(seen).toBe(1);
    expect((await one.app.part(bag))?.part.stage).toBe('filled');
  });

  it('believes no reset that is not MACed for it', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    await settle(one);
    const cursor = await one.view.cursor();
    server.fetch = async (_url, init) => {
      const nonce = init.body && typeof init.body === 'string' ? JSON.parse(init.body).nonce : 'n';
      return new Response(JSON.stringify({ k: 'reset', farm: PAIRING.farm, epoch: 'e99999999999', nonce, mac: '0'.repeat(32), error: { code: 'wrong_log', message: 'm', todo: '', details: {} } }),
        { status: 409, headers: { 'content-type': 'application/json' } });
    };
    await settle(one);
    expect(await one.view.cursor()).toEqual(cursor);
    expect(await waiting(one)).toEqual([]);
    expect(one.app.link.value.state).toBe('portal');
  });

  it('splits a cloned phone from its twin: nothing lost, a stream of its own', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    await settle(one);
    const stream = await one.outbox.get('stream');
    const clone = await phone(server, undefined, { ...PAIRING });
    await clone.outbox.set('stream', stream);
    await born(one, newCode('B'));
    await born(clone, newCode('B'));
    await settle(one);
    await settle(clone);
    expect(server.log).toHaveLength(3);
    expect(await clone.outbox.stream()).not.toBe(await one.outbox.stream());
    await born(clone, newCode('B'));
    await settle(clone);
    expect(new Set(server.log.map(({ st, sq }) => `${st} ${sq}`)).size).toBe(3);
    expect(server.log).toHaveLength(4);
  });

  it('learns the server\u2019s clock, and a phone a year ahead comes back to its senses', async () => {
    const server = new FakeServer();
    server.skew = -365 * 86_400_000;
    const one = await phone(server);
    await born(one, newCode('B'));
    await settle(one);
    await born(one, newCode('B'));
    const [second] = await one.outbox.newest(1);
    expect(JSON.parse(second!.text).cl.q).toBe('sync');
    expect(Math.abs(second!.at - (Date.now() + server.skew))).toBeLessThan(180_000);
  });

  it('sends what an earlier session left behind', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, newCode('B'));
    await one.app.stop();
    const again = await phone(server, one.name);
    expect(again.app.unsent.value.count).toBe(1);
    expect(again.app.find({ batch })).toHaveLength(1);
    await settle(again);
    expect(server.log).toHaveLength(1);
  });

  it.each([['a lease', undefined], ['Web Locks', locks()]])('lets one tab send at a time, by %s', async (_, held) => {
    const server = new FakeServer();
    vi.stubGlobal('navigator', { locks: held, onLine: true });
    let [busy, most] = [0, 0];
    const fetching = server.fetch;
    const counted = Object.assign(Object.create(server) as FakeServer, {
      fetch: async (url: string, init: RequestInit) => {
        busy += 1;
        most = Math.max(most, busy);
        await new Promise((done) => { setTimeout(done, 5); });
        try {
          return await fetching(url, init);
        } finally {
          busy -= 1;
        }
      },
    });
    try {
      const one = await phone(counted);
      const two = await phone(counted, one.name);
      for (let i = 0; i < 20; i += 1) await born(i % 2 ? one : two, newCode('B'));
      // A tab that finds the other one sending leaves; what it wrote meanwhile goes with a later turn.
      for (let turn = 0; turn < 20 && server.log.length < 20; turn += 1) await Promise.all([settle(one), settle(two)]);
      expect(server.log).toHaveLength(20);
      expect(most).toBe(1);
      expect(await waiting(one)).toEqual([]);
    } finally {
      vi.unstubAllGlobals();
    }
  });

  it('B11: a 403 that anybody could have said leaves the view; the farm’s own proof lets it go and keeps the outbox', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const bag = newCode('B');
    await born(one, bag);
    await settle(one);
    server.elsewhere({ ty: 'note.written', sub: [bag], d: { text: 'theirs' } });
    await settle(one);
    server.revoked = 'plain';
    const text = (await one.outbox.newest(1))[0]!.text;
    await settle(one);
    expect(one.app.link.value.state).toBe('unpaired');
    expect((await one.app.part(bag))?.part.n).toBe(1);
    expect(await one.view.cursor()).toBeDefined();
    server.revoked = 'proved';
    await one.app.write([{ ty: 'note.written', sub: [bag], d: { text: 'still sent' } }]);
    await settle(one);
    expect(one.app.link.value.state).toBe('unpaired');
    expect(await one.app.part(bag)).toBeNull();
    expect(one.app.find({})).toEqual([]);
    expect(await one.view.cursor()).toBeUndefined();
    expect(await one.others.toOffer('e-other', 10)).toEqual([]);
    expect(server.log.at(-1)!.text).toContain('still sent');
    expect((await one.outbox.newest(10)).map((kept) => kept.text)).toContain(text);
    // Paired again, it sees the farm as before.
    server.revoked = null;
    await settle(one);
    expect((await one.app.part(bag))?.part.n).toBe(1);
  });

  it('a change in one tab is seen in the other', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    const two = await phone(server, one.name);
    await born(one, newCode('B'));
    await vi.waitFor(() => expect(two.app.unsent.value.count).toBe(1));
    await settle(two);
    await vi.waitFor(() => expect(one.app.unsent.value.count).toBe(0));
    expect(one.app.find({ batch })).toHaveLength(1);
  });

  it('knows a clock that was set by hand', () => {
    let [wall, steady] = [1_000_000, 0];
    const clock = new Clock(() => wall, () => steady);
    expect(clock.stamp().q).toBe('none');
    clock.sample(1_000_000, 1_000_010, 1_000_105);
    expect(clock.stamp()).toMatchObject({ q: 'sync', o: 100 });
    wall += 3_600_000;
    expect(clock.stamp()).toMatchObject({ q: 'jump', o: 0 });
    clock.sample(wall, wall, wall - 3_600_000);
    expect(clock.stamp()).toMatchObject({ q: 'sync', o: -3_600_000 });
    wall += 90_000_000;
    steady += 90_000_000;
    expect(clock.stamp().q).toBe('stale');
  });
});

/** Web Locks as far as the client uses them: one holder, `ifAvailable`. */
function locks(): unknown {
  let taken = false;
  return {
    request: async (_name: string, _options: unknown, work: (lock: unknown) => Promise<void>) => {
      if (taken) return work(null);
      taken = true;
      try {
        return await work({});
      } finally {
        taken = false;
      }
    },
  };
}
