import { describe, expect, it, vi } from 'vitest';
import { newCode } from '../../../client/src/ids';
import { holdPass, IDLE_MS, pass } from '../../../client/src/pass';
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

  it('holds a pass and the rights it gives until it is over or the person changes', async () => {
    const one = await phone(new FakeServer());
    const me = one.app.device.value!;
    one.app.device.value = { ...me, role: 'worker' };
    await one.outbox.set('device', { ...(await one.outbox.get('device')) as object, role: 'worker' });
    const [boss, hand] = [newCode('W'), newCode('W')];
    await one.app.stand(boss, { role: 'manager', pass: 'the pass' });
    expect(one.app.device.value).toMatchObject({ by: boss, role: 'manager' });
    expect(pass.text).toBe('the pass');
    await one.app.stand(hand);
    expect(one.app.device.value).toMatchObject({ by: hand, role: 'worker' });
    expect(pass.text).toBe('');
    // Nothing beyond what the server says.
    await one.app.stand(boss, { role: 'king', pass: 'the pass' });
    expect(one.app.device.value).toMatchObject({ role: 'worker' });
  });

  it('lets the pass go when nobody touches the screen for its minutes, and keeps it while somebody does', async () => {
    vi.useFakeTimers();
    const touches = new EventTarget();
    vi.stubGlobal('addEventListener', touches.addEventListener.bind(touches));
    vi.stubGlobal('removeEventListener', touches.removeEventListener.bind(touches));
    try {
      const over = vi.fn();
      const anew = vi.fn(async () => 'fresh');
      holdPass('first', anew, over);
      await vi.advanceTimersByTimeAsync(4 * 60_000);
      touches.dispatchEvent(new Event('pointerdown'));
      await vi.advanceTimersByTimeAsync(IDLE_MS - 1_000);
      expect([pass.text, over.mock.calls.length]).toEqual(['fresh', 0]);
      await vi.advanceTimersByTimeAsync(2_000);
      expect([pass.text, over.mock.calls.length]).toEqual(['', 1]);
      touches.dispatchEvent(new Event('pointerdown'));
      expect(anew).toHaveBeenCalledTimes(1);
    } finally {
      vi.unstubAllGlobals();
      vi.useRealTimers();
    }
  });
});
