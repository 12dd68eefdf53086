import { describe, expect, it, vi } from 'vitest';
import { readFile, written } from '../../../client/src/exported';
import { newCode } from '../../../client/src/ids';
import { phone, settle, type Phone } from './device';
import { FakeServer, PAIRING } from './fake-server';

const OTHER_DEVICE = { ...PAIRING, dev: 'd00000000000000bb', letter: 'B' };
const head = { farm: PAIRING.farm, dev: PAIRING.dev, letter: 'A', made: 1_760_000_000_000 };
const batch = newCode('M');

async function born(one: Phone, n: number): Promise<void> {
  for (let i = 0; i < n; i += 1) await one.app.write([{ ty: 'bag.filled', sub: [batch], d: { to: [newCode('B')], fill_g: 2_400 } }]);
}

const fileOf = async (one: Phone): Promise<string> => (await (await one.app.desk()).toFile()).file.text();
const takeIn = async (one: Phone, text: string) => (await one.app.desk()).fromFile(new Blob([text]));
const standing = async (one: Phone) => (await one.app.desk()).fileStanding();

describe('records carried in a file', () => {
  it('P8 a phone that never reaches the server: its records arrive once, over another, as they were written', async () => {
    const server = new FakeServer();
    const [far, near] = [await phone(new FakeServer()), await phone(server, undefined, OTHER_DEVICE)];
    await born(far, 30);
    const texts = (await far.outbox.queued(99)).map(({ text }) => text);
    const file = await fileOf(far);
    expect(await takeIn(near, file)).toEqual({ fresh: 30, known: 0, torn: false });
    await settle(near);
    // As a set: ids of one millisecond have no order, and no order of arrival matters to the fold.
    expect(server.log.map(({ text }) => text).sort()).toEqual(texts.sort());
    expect(await standing(near)).toEqual({ waiting: 0, arrived: 30, known: 0, held: 0, refused: 0 });
    // Once more, and by the phone itself after all: nothing is doubled, nothing was taken from it.
    expect(await takeIn(near, file)).toEqual({ fresh: 0, known: 30, torn: false });
    await settle(near);
    expect(await far.outbox.queued(99)).toHaveLength(30);
    const third = await phone(server, undefined, { ...PAIRING, dev: 'd00000000000000cc' });
    await takeIn(third, file);
    await settle(third);
    expect(server.log).toHaveLength(30);
    expect(await standing(third)).toMatchObject({ arrived: 0, known: 30 });
  });

  it('carries what was acknowledged with its receipt, for a server that has lost it', async () => {
    const [first, second] = [new FakeServer(), new FakeServer()];
    const one = await phone(first);
    await born(one, 2);
    await settle(one);
    await born(one, 1);
    const { records } = readFile(await fileOf(one), PAIRING.farm);
    const receipts = first.log.map(({ receipt }) => receipt);
    expect(records.map(({ receipt }) => receipt)).toEqual([...receipts, undefined]);
    const other = await phone(second, undefined, OTHER_DEVICE);
    await takeIn(other, await fileOf(one));
    await settle(other);
    expect(second.log).toHaveLength(3);
    expect(second.log.map(({ receipt }) => receipt)).toEqual(expect.arrayContaining(receipts));
  });

  it('passes on what it took in and could not send', async () => {
    const server = new FakeServer();
    const [a, b, c] = [await phone(new FakeServer()), await phone(new FakeServer(), undefined, OTHER_DEVICE), await phone(server)];
    await born(a, 2);
    await takeIn(b, await fileOf(a));
    await takeIn(c, await fileOf(b));
    await settle(c);
    expect(server.log).toHaveLength(2);
  });

  it.each([401, 403, 404] as const)('is made and kept by a phone that is answered %s', async (fault) => {
    const server = new FakeServer();
    const one = await phone(server);
    await born(one, 3);
    server.faults = [fault, fault, fault];
    await settle(one);
    expect(one.app.link.value.state).not.toBe('ok');
    expect(readFile(await fileOf(one), PAIRING.farm).records).toHaveLength(3);
    expect(await one.outbox.queued(9)).toHaveLength(3);
  });

  it('reads a file that was cut off anywhere as far as it goes, says so, and the whole file later adds the rest only', async () => {
    const one = await phone(new FakeServer());
    await born(one, 4);
    const file = await fileOf(one);
    const whole = readFile(file, PAIRING.farm).records;
    const first = file.indexOf('\n') + 1;
    for (let at = first; at < file.length - 2; at += 7) {
      const { records, torn } = readFile(file.slice(0, at), PAIRING.farm);
      expect(torn).toBe(true);
      expect(records).toEqual(whole.slice(0, records.length));
    }
    const server = new FakeServer();
    const two = await phone(server, undefined, OTHER_DEVICE);
    const part = file.split('\n').slice(0, 3).join('\n');
    expect(await takeIn(two, part)).toEqual({ fresh: 1, known: 0, torn: true });
    await settle(two);
    expect(await takeIn(two, file)).toEqual({ fresh: 3, known: 1, torn: false });
    await settle(two);
    expect(server.log.map(({ id }) => id)).toEqual(whole.map(({ id }) => id));
  });

  it('takes nothing from a wrong file, and says what is wrong with it', async () => {
    const one = await phone(new FakeServer());
    await born(one, 2);
    const file = await fileOf(one);
    const lines = file.split('\n');
    const wrong: [string, string][] = [
      ['', 'file_not_ours'], ['PK\u0003\u0004', 'file_not_ours'], ['{"a":1}\n', 'file_not_ours'], ['[1]\n', 'file_not_ours'],
      [written({ ...head, farm: 'f99999999' }, []), 'file_old_farm'],
      [file.replace('"v":1', '"v":2'), 'file_newer'],
      [file.replace('2400', '2401'), 'file_damaged'],
      [[lines[0], lines[2], ...lines.slice(3)].join('\n'), 'file_damaged'],
      [[lines[0], lines[2], lines[1], ...lines.slice(3)].join('\n'), 'file_damaged'],
      [`${file}["more","x"]\n`, 'file_damaged'],
      [[lines[0], 'rubbish', ''].join('\n'), 'file_damaged'],
    ];
    for (const [text, code] of wrong) {
      await expect(takeIn(one, text), text.slice(0, 60)).rejects.toMatchObject({ code });
      expect(await one.others.imported()).toEqual([]);
    }
    // What mail programs do to a text changes nothing of it.
    expect(readFile(`\ufeff${file.replaceAll('\n', '\r\n')}`, PAIRING.farm).records).toHaveLength(2);
  });

  it('P4 takes another farm\u2019s file only at an owner\u2019s or manager\u2019s word, and sends it as that', async () => {
    const old = await phone(new FakeServer());
    await born(old, 3);
    const file = (await fileOf(old)).replace(PAIRING.farm, 'f99999999').split('\n').slice(0, -2).join('\n').concat('\n');
    const theirs = readFile(file, 'f99999999').records.map(({ text }) => text);
    const server = new FakeServer();
    const [worker, boss] = [await phone(server, undefined, { ...OTHER_DEVICE, role: 'worker' }), await phone(server, undefined, { ...OTHER_DEVICE, dev: 'd00000000000000cc' })];
    await expect((await worker.app.desk()).fromFile(new Blob([file]), true)).rejects.toMatchObject({ code: 'file_other_farm' });
    const desk = await boss.app.desk();
    await expect(desk.fromFile(new Blob([file]))).rejects.toMatchObject({ code: 'file_old_farm', details: { n: 3 } });
    expect(await boss.others.imported()).toEqual([]);
    // An older server, or a role that changed meanwhile: they wait, and own work goes on.
    server.foreign = 'refused';
    expect(await desk.fromFile(new Blob([file]), true)).toMatchObject({ fresh: 3 });
    await born(boss, 1);
    await settle(boss);
    expect(server.log).toHaveLength(1);
    expect(boss.app.link.value.state).toBe('ok');
    expect(await standing(boss)).toMatchObject({ waiting: 3 });
    // A file of this farm\u2019s holds this farm\u2019s only.
    expect(readFile(await fileOf(boss), PAIRING.farm).records).toHaveLength(1);
    // The app is opened again over a server that takes them.
    server.foreign = 'taken';
    const later = await phone(server, boss.name, { ...OTHER_DEVICE, dev: 'd00000000000000cc' });
    await settle(later);
    expect(server.log.map(({ text }) => text).slice(1).sort()).toEqual(theirs.sort());
    expect(await standing(later)).toMatchObject({ waiting: 0, held: 3 });
  });

  it('P4 A14 a phone whose farm is gone may leave it once its records lie in a file; they stay, apart, and come back', async () => {
    const gone = await phone(new FakeServer());
    await born(gone, 2);
    await settle(gone);
    await born(gone, 3);
    await expect(gone.app.signOut()).rejects.toMatchObject({ code: 'unsent', details: { n: 3 } });
    const texts = (await gone.outbox.newest(99)).map(({ text }) => text).reverse();
    const file = await fileOf(gone);
    await born(gone, 1); // written after the file: it lies in none
    await expect(gone.app.signOut()).rejects.toMatchObject({ code: 'unsent', details: { n: 1 } });
    texts.push((await gone.outbox.newest(1))[0]!.text);
    await fileOf(gone);
    await gone.app.signOut();
    // Another farm: nothing of the old one is sent there, offered or counted.
    const other = new FakeServer();
    const pair = (farm: string): void => {
      vi.spyOn(other as unknown as { answer: (url: string, body: unknown) => unknown }, 'answer')
        .mockReturnValueOnce({ status: 200, body: { ...PAIRING, farm, k: 'pair1' } });
    };
    const later = await phone(other, gone.name);
    await later.outbox.set('device', undefined);
    pair('fother0000000000');
    await later.app.pair('ABCD1234', 'Phone');
    expect(later.app.unsent.value.count).toBe(0);
    expect(await later.outbox.newest(9)).toEqual([]);
    const desk = await later.app.desk();
    expect(await desk.leftFarms()).toEqual([{ farm: PAIRING.farm, tag: PAIRING.tag, n: 6 }]);
    const { file: again, all, waiting } = await desk.leftFile(PAIRING.farm);
    expect([all, waiting]).toEqual([6, 4]);
    expect(readFile(await again.text(), PAIRING.farm).records.map(({ text }) => text)).toEqual(texts);
    expect(readFile(file, PAIRING.farm).records.map(({ text }) => text)).toEqual(texts.slice(0, 5));
    // Back at the old farm after all: they are sent like records from a file.
    pair(PAIRING.farm);
    await later.app.pair('ABCD1234', 'Phone');
    await settle(later);
    expect(other.log.map(({ text }) => text).sort()).toEqual([...texts].sort());
    expect(await desk.leftFarms()).toEqual([]);
  });

  it('tells an empty device that there is nothing, and an unpaired one to pair', async () => {
    const one = await phone(new FakeServer());
    await expect((await one.app.desk()).toFile()).rejects.toMatchObject({ code: 'file_nothing' });
    await one.outbox.set('device', undefined);
    await expect((await one.app.desk()).toFile()).rejects.toMatchObject({ code: 'not_paired' });
    await expect(takeIn(one, written(head, []))).rejects.toMatchObject({ code: 'not_paired' });
  });

  it('tells what the server refused, and a good copy of it then takes its place', async () => {
    const server = new FakeServer();
    const [far, near] = [await phone(new FakeServer()), await phone(server, undefined, OTHER_DEVICE)];
    await born(far, 1);
    const { records } = readFile(await fileOf(far), PAIRING.farm);
    const forged = written(head, records.map((one) => ({ ...one, mac: '0'.repeat(32) })));
    await takeIn(near, forged);
    await near.others.named([{ id: records[0]!.id, code: 'unauthentic' }]); // as the server answers a forged seal
    expect(await standing(near)).toMatchObject({ waiting: 0, refused: 1 });
    expect(await takeIn(near, forged)).toMatchObject({ fresh: 0 });
    expect(await takeIn(near, await fileOf(far))).toMatchObject({ fresh: 1 });
    await settle(near);
    expect(server.log.map(({ text }) => text)).toEqual([records[0]!.text]);
    expect(await standing(near)).toMatchObject({ arrived: 1, refused: 0 });
  });
});
