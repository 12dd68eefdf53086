/**
 * Records of a farm that this device has left. A phone whose farm's computer is lost must be free to join another
 * farm; what it wrote is first carried in a file, and is kept here besides: under the farm it belongs to, apart from
 * what is sent. It goes into the queue again when the device comes back to that farm.
 */
import type { Carried } from './exported';
import type { Others } from './others';
import type { Outbox, Pairing, Write } from './outbox';

/** Whose records they were: enough to write their file. */
export type Left = Pick<Pairing, 'farm' | 'tag' | 'dev' | 'letter'>;

export interface Aside extends Left {
  records: Carried[];
}

/** What was last put into a file: of which farm, and up to which of this device's records. */
interface InFile {
  farm: string;
  n: number;
}

const IN_FILE = 'in_file';
const LEFT = 'left';
const ASIDE = 'aside';

export async function noteFile(outbox: Outbox, farm: string, n: number): Promise<void> {
  await outbox.set(IN_FILE, { farm, n } satisfies InFile);
}

/** How many records wait that lie in no file; inside a transaction. */
export async function waitingAlone(tx: Write, farm: string | undefined): Promise<number> {
  const file = (await tx.objectStore('meta').get(IN_FILE)) as InFile | undefined;
  const known = file && file.farm === farm ? file.n : 0;
  return tx.objectStore('records').index('q').count(IDBKeyRange.lowerBound(known, true));
}

/** Keeps whose farm this was while nobody's key is here. */
export async function leave(tx: Write, { farm, tag, dev, letter }: Pairing): Promise<void> {
  await tx.objectStore('meta').put({ farm, tag, dev, letter } satisfies Left, LEFT);
}

/** The farm this device belongs to, or belonged to last. */
export async function lastFarm(outbox: Outbox): Promise<Left | undefined> {
  return (await outbox.get<Pairing>('device')) ?? outbox.get<Left>(LEFT);
}

/** Puts all records of a farm that was left aside, in one transaction; they are neither sent nor counted here. */
export async function putAside(outbox: Outbox, { farm, tag, dev, letter }: Left): Promise<void> {
  await outbox.write('putting another farm\u2019s records aside', async (tx) => {
    const [records, meta] = [tx.objectStore('records'), tx.objectStore('meta')];
    const own = await records.index('n').getAll();
    const aside = ((await meta.get(ASIDE)) as Aside[] | undefined) ?? [];
    const before = aside.find((one) => one.farm === farm)?.records ?? [];
    const carried: Carried[] = own.map(({ text, mac, receipt, rmac }) => ({ text, mac, receipt, rmac }));
    const rest = aside.filter((one) => one.farm !== farm);
    if (own.length) await meta.put([...rest, { farm, tag, dev, letter, records: [...before, ...carried] }], ASIDE);
    await records.clear();
  });
}

export async function asides(outbox: Outbox): Promise<Aside[]> {
  return (await outbox.get<Aside[]>(ASIDE)) ?? [];
}

/** The device is back at a farm it had left: what was put aside is sent like records from a file. */
export async function bringBack(outbox: Outbox, others: Others, farm: string): Promise<void> {
  const found = (await asides(outbox)).find((one) => one.farm === farm);
  if (!found) return;
  await others.take(found.records.flatMap(({ text, mac, receipt, rmac }) => {
    const id = /"id"\s*:\s*"([0-9a-f-]{36})"/.exec(text)?.[1];
    return id ? [{ id, text, mac, ...(receipt && rmac ? { receipt, rmac } : {}) }] : [];
  }));
  await outbox.change<Aside[]>(ASIDE, (all) => (all ?? []).filter((one) => one.farm !== farm));
}
