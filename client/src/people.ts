/** Who holds this device: another person at a shared tablet, or nobody any more. */
import type { Signal } from '@preact/signals';
import { AppError } from './app-types';
import { leave, waitingAlone } from './aside';
import type { App, Device, Entered } from './app-types';
import { dropPass, holdPass } from './pass';
import type { Outbox, Pairing } from './outbox';

/** From here on this device's records say that `person` wrote them. */
export async function stand(outbox: Outbox, person: string): Promise<void> {
  await outbox.change<Pairing>('device', (old) => {
    if (!old) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
    return { ...old, by: person };
  });
}

/** A pass gives the tablet the person's rights until it is over or the person changes; without one it has its own. */
export function raise(app: App, device: Signal<Device | null>, entered: Entered | undefined, lower: () => Promise<void>): void {
  dropPass();
  const role = RANKS.find((rank) => rank === entered?.role);
  if (!entered?.pass || !device.value || !role) return;
  holdPass(entered.pass, async () => String((await app.ask('/api/people/stay', {}))['pass'] ?? ''), () => void lower());
  if (RANKS.indexOf(role) > RANKS.indexOf(device.value.role)) device.value = { ...device.value, role, raised: true };
}

const RANKS = ['worker', 'manager', 'owner'] as const;

/**
 * Forgets the farm's key, in the transaction that looks for unsent records: another tab cannot write one
 * meanwhile. Throws AppError while any waits that lies in no file; without the key nobody could send it.
 */
export async function signOut(outbox: Outbox): Promise<void> {
  await outbox.write('signing out', async (tx) => {
    const pairing = (await tx.objectStore('meta').get('device')) as Pairing | undefined;
    const n = await waitingAlone(tx, pairing?.farm);
    if (n) {
      throw new AppError('unsent', `${n} records on this device are not sent yet.`,
        'Go where the farm\u2019s network is, wait until all are sent, then sign out. Where that is gone for good, make a file of them under Settings first.', { n });
    }
    if (pairing) await leave(tx, pairing);
    await tx.objectStore('meta').delete('device');
  });
}
