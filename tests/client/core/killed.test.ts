/** The app is killed between any two requests to its storage, or its line breaks in any way (P1, P3, P6: A1, A3, A14, C2). */
import { afterEach, describe, expect, it, vi } from 'vitest';
import { newCode } from '../../../client/src/ids';
import { FakeServer } from './fake-server';
import { phone, putAway, settle, waiting, type Phone } from './device';

afterEach(async () => {
  vi.restoreAllMocks();
  await putAway();
});

const batch = newCode('M');
const note = (one: Phone, text: string) => one.app.write([{ ty: 'note.written', sub: [batch], d: { text } }]);
const elsewhere = (server: FakeServer, n: number): void => {
  for (let i = 0; i < n; i += 1) server.elsewhere({ ty: 'note.written', sub: [batch], d: { text: `theirs ${server.log.length}` } });
};

/** Every request to storage from the n-th on fails and its transaction with it, as after a SIGKILL. Returns how many were asked. */
function killedAt(n: number): { asked: () => number } {
  let asked = 0;
  const dies = (owner: { prototype: any }, names: string[]): void => {
    for (const name of names) {
      const real = owner.prototype[name];
      vi.spyOn(owner.prototype, name).mockImplementation(function request(this: unknown, ...args: unknown[]) {
        asked += 1;
        if (asked >= n) throw new DOMException('killed', 'DataError');
        return real.apply(this, args);
      });
    }
  };
  dies(IDBObjectStore, ['get', 'getAll', 'getAllKeys', 'put', 'add', 'delete', 'clear', 'openCursor', 'count']);
  dies(IDBIndex, ['get', 'getKey', 'getAll', 'getAllKeys', 'openCursor', 'count']);
  return { asked: () => asked };
}

/** Positions of the log that the stored rows hold, in order, and the cursor. */
async function applied({ view }: Phone): Promise<{ held: number[]; pos: number }> {
  const rows = await view.rows((await view.finds()).map(({ unit }) => unit));
  return { held: rows.flatMap((row) => row.lines.map(({ p }) => p)).sort((a, b) => a - b), pos: (await view.cursor())?.pos ?? 0 };
}

describe('an app that is killed', () => {
  it('P6_C2_P3_A1 between any two requests of a push and a pull: applied is a prefix, acknowledged is stored, nothing is lost', async () => {
    let cut = 1;
    for (let whole = false; !whole; cut += 1) {
      const server = new FakeServer();
      elsewhere(server, 2);
      const one = await phone(server);
      await settle(one);
      for (const text of ['a', 'b']) await note(one, text);
      await putAway();
      const written = (await one.outbox.newest(10)).map(({ id }) => id);
      elsewhere(server, 3);

      const again = await phone(server, one.name);
      await again.app.unsent.value;
      const kill = killedAt(cut);
      await settle(again);
      whole = kill.asked() < cut;
      vi.restoreAllMocks();
      await putAway();

      const back = await phone(server, one.name);
      const { held, pos } = await applied(back);
      expect(held, `killed at request ${cut}`).toEqual(Array.from({ length: pos }, (_, i) => i + 1));
      const acked = (await back.outbox.newest(10)).filter(({ state }) => state !== 'queued').map(({ id }) => id);
      expect(acked.filter((id) => !server.ids().includes(id)), `killed at request ${cut}`).toEqual([]);
      // Without Web Locks, as here, the lease of the one that was killed runs out after a minute.
      await back.outbox.set('lease', null);
      await settle(back);
      expect(await waiting(back), `killed at request ${cut}`).toEqual([]);
      expect(server.ids().filter((id) => written.includes(id)).sort(), `killed at request ${cut}`).toEqual([...written].sort());
      expect((await applied(back)).held).toEqual(server.log.map((_, i) => i + 1));
      await putAway();
    }
    expect(cut).toBeGreaterThan(20);
  }, 120_000);

  it('P3_A1_A3 whatever the line answers: marked only what is stored, and all arrives once', async () => {
    const faults = ['html', 'empty', 'drop', 'drop-after', 'other-farm', 'cut', 400, 401, 403, 404, 429, 500, 502, 503, 504, 511] as const;
    for (const fault of faults) {
      for (const before of [0, 1]) { // the push itself, and the pull behind it
        const server = new FakeServer();
        const one = await phone(server);
        await settle(one);
        for (const text of ['a', 'b', 'c']) await note(one, text);
        await one.app.sync.stop();
        await putAway();
        const back = await phone(server, one.name);
        server.faults = [...Array.from({ length: before }, () => undefined as never), fault, fault];
        await settle(back);
        const acked = (await back.outbox.newest(10)).filter(({ state }) => state !== 'queued').map(({ id }) => id);
        expect(acked.filter((id) => !server.ids().includes(id)), `${fault} after ${before}`).toEqual([]);
        server.faults = [];
        await putAway(); // a new start has nothing to wait out
        const last = await phone(server, one.name);
        await settle(last);
        expect(await waiting(last), `${fault} after ${before}`).toEqual([]);
        expect(new Set(server.ids()).size).toBe(3);
        expect(server.log).toHaveLength(3);
        await putAway();
      }
    }
  }, 120_000);
});

describe('a key that is no longer good', () => {
  it('P1_A14 200 unsent survive every refusal, a sign-out that is refused, and pairing again', async () => {
    const server = new FakeServer();
    const one = await phone(server);
    await settle(one);
    for (let i = 0; i < 20; i += 1) {
      await one.app.write(Array.from({ length: 10 }, (_, n) => ({ ty: 'note.written', sub: [batch], d: { text: `${i}.${n}` } })));
    }
    const texts = (await one.outbox.newest(500)).map(({ text }) => text);
    expect(texts).toHaveLength(200);
    for (const status of [401, 403, 401]) {
      server.faults = Array.from({ length: 3 }, () => status);
      await settle(one);
      await expect(one.app.signOut()).rejects.toMatchObject({ code: expect.any(String) });
    }
    server.faults = Array.from({ length: 50 }, () => 401);
    const back = await phone(server, one.name);
    await settle(back);
    expect((await back.outbox.newest(500)).map(({ text }) => text)).toEqual(texts);
    expect(back.app.unsent.value.count + server.log.length).toBeGreaterThanOrEqual(200);
    server.faults = [];
    await settle(back);
    await settle(one);
    expect(await waiting(back)).toEqual([]);
    expect(server.log.map(({ text }) => text).sort()).toEqual([...texts].sort());
  });
});
