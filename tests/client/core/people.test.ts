import { describe, expect, it } from 'vitest';
import { newCode } from '../../../client/src/ids';
import { FakeServer } from './fake-server';
import { phone, settle, waiting } from './device';

const mixed = (): { ty: string; sub: string[]; d: { name: string } } => ({ ty: 'batch.mixed', sub: [newCode('M')], d: { name: '25 Nov A1' } });

describe('who holds the device', () => {
  it('refuses to sign out while a record is unsent, and loses none', async () => {
    const one = await phone(new FakeServer());
    await one.app.write([mixed()]);
    const before = await waiting(one);
    await expect(one.app.signOut()).rejects.toMatchObject({ code: 'unsent', details: { n: 1 } });
    expect(one.app.device.value).not.toBeNull();
    expect(await waiting(one)).toEqual(before);
  });

  it('signs out when all is sent: the key and what was fetched go, and nothing can be written', async () => {
    const one = await phone(new FakeServer());
    await one.app.write([mixed()]);
    await settle(one);
    await one.app.signOut();
    expect(one.app.device.value).toBeNull();
    expect(await one.outbox.get('device')).toBeUndefined();
    expect(await one.view.cursor()).toBeUndefined();
    await expect(one.app.write([mixed()])).rejects.toMatchObject({ code: 'not_paired' });
  });

  it('writes in the name of whoever stands at it, under its own key and rights', async () => {
    const one = await phone(new FakeServer());
    const { role, dev } = one.app.device.value!;
    const person = newCode('W');
    await one.app.stand(person);
    await one.app.write([mixed()]);
    const [record] = (await one.outbox.queued(9)).map((kept) => JSON.parse(kept.text) as { by: string; dev: string });
    expect(record).toMatchObject({ by: person, dev });
    expect(one.app.device.value).toMatchObject({ by: person, role });
  });
});
