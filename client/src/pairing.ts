/** Pairing: a one-time code against this device's key. What waits on the device is never given up for it. */
import { LinkError, type Api } from './api';
import { AppError } from './app-types';
import { bringBack, lastFarm, putAside, waitingAlone } from './aside';
import { isObject } from './check';
import type { View } from './db';
import type { Others } from './others';
import type { Outbox, Pairing } from './outbox';
import { randomHex } from './random';

/** Pairs this device and keeps what the server gave. Throws AppError. */
export async function pairWith(api: Api, outbox: Outbox, view: View, others: Others, code: string, name: string): Promise<Pairing> {
  let body: Record<string, unknown>;
  try {
    ({ body } = await api.json('/api/devices/pair', null, { code, name }));
  } catch (error) {
    throw asAppError(error);
  }
  if (body['k'] !== 'pair1' || !isPairing(body)) {
    throw new AppError('portal', 'Something other than the farm\u2019s computer answered.', 'Join the farm\u2019s network and try again.');
  }
  const { farm, tag, name: called, zone, dev, gen, key, role, by, letter } = body;
  const pairing: Pairing = { farm, tag, name: called, zone, dev, gen, key, role, by, letter };
  const before = await lastFarm(outbox);
  if (before && before.farm !== pairing.farm) {
    const count = await outbox.write('looking for what waits', (tx) => waitingAlone(tx, before.farm));
    if (count) {
      throw new AppError('other_farm', `${count} records for another farm still wait on this device.`,
        'Let them be sent to their own farm first, or make a file of them under Settings.', { n: count });
    }
    await putAside(outbox, before);
  }
  // Another device key: a stream of its own, and numbers that go on.
  await outbox.change<{ st: string; sq: number; at: number; n: number }>('stream', (old) => (
    { st: randomHex(16), sq: 0, at: old?.at ?? 0, n: old?.n ?? 0 }
  ));
  if (before && before.farm !== pairing.farm) {
    await Promise.all(['log', 'clock'].map((value) => outbox.set(value, undefined)));
    await Promise.all([view.shed(), others.shed()]);
  }
  await outbox.set('device', pairing);
  await bringBack(outbox, others, pairing.farm);
  return pairing;
}

/** What a failed exchange means to a person. */
export function asAppError(error: unknown): AppError {
  if (error instanceof AppError) return error;
  if (!(error instanceof LinkError)) return new AppError('unexpected', String(error), '', { why: String(error) });
  const said: unknown = error.body['error'];
  if (isObject(said) && typeof said['code'] === 'string') {
    const details = isObject(said['details']) ? said['details'] : {};
    return new AppError(said['code'], String(said['message'] ?? ''), String(said['todo'] ?? ''), details);
  }
  if (error.trouble === 'portal') {
    return new AppError('portal', error.message, 'Join the farm\u2019s network, or sign in to this one, and try again.');
  }
  return new AppError('offline', 'The farm\u2019s computer cannot be reached now.', 'Come closer to the network or wait, then try again.', { why: error.message });
}

function isPairing(body: Record<string, unknown>): body is Record<string, unknown> & Pairing {
  const texts = ['farm', 'tag', 'name', 'zone', 'dev', 'key', 'by', 'letter'].every((field) => typeof body[field] === 'string');
  return texts && typeof body['gen'] === 'number' && /^[0-9a-f]{64}$/.test(body['key'] as string)
    && ['owner', 'manager', 'worker'].includes(body['role'] as string);
}
