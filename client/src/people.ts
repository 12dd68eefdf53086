/** Who holds this device: another person at a shared tablet, or nobody any more. */
import { AppError } from './app-types';
import type { Outbox, Pairing } from './outbox';

/** From here on this device's records say that `person` wrote them; its rights stay its own. */
export async function stand(outbox: Outbox, person: string): Promise<void> {
  await outbox.change<Pairing>('device', (old) => {
    if (!old) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
    return { ...old, by: person };
  });
}

/**
 * Forgets the farm's key, in the transaction that looks for unsent records: another tab cannot write one
 * meanwhile. Throws AppError while any waits; without the key nobody could send it.
 */
export async function signOut(outbox: Outbox): Promise<void> {
  await outbox.write('signing out', async (tx) => {
    const n = await tx.objectStore('records').index('q').count();
    if (n) {
      throw new AppError('unsent', `${n} records on this device are not sent yet.`,
        'Go where the farm\u2019s network is, wait until all are sent, then sign out.', { n });
    }
    await tx.objectStore('meta').delete('device');
  });
}
