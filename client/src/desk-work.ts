/**
 * What the screens of the desk ask beyond the day's work: records into a file and out of one, how safe the log is,
 * backups, devices to be confirmed. Fetched with the rest of the network half.
 */
import type { Api } from './api';
import { AppError, type FileStanding, type LogState } from './app-types';
import { asides, noteFile, type Left } from './aside';
import { MOST_BYTES, readFile, written, type Carried } from './exported';
import type { Others } from './others';
import type { Outbox, Pairing } from './outbox';

type Ask = <T>(ask: (pairing: Pairing, api: Api) => Promise<T>) => Promise<T>;

const EVERY = 1_000_000;

export class DeskWork {
  constructor(
    private readonly outbox: Outbox,
    private readonly others: Others,
    private readonly ask: Ask,
    private readonly sendNow: () => void,
  ) {}

  /**
   * Everything that this device wrote and still keeps, and what it took in and has not sent: a file, its name, and
   * how many of them the farm's computer has not named. What it has named goes along: after a restore that may be
   * the last copy, and nothing is counted twice.
   */
  async toFile(): Promise<{ file: Blob; name: string; waiting: number; all: number }> {
    const pairing = await this.pairing();
    // A file is one farm's: what came in another farm's is still in that.
    const [own, due] = await Promise.all([this.outbox.newest(EVERY), this.others.due(EVERY)]);
    const records: Carried[] = [...own.reverse(), ...due];
    if (!records.length) throw new AppError('file_nothing', 'There is nothing on this device to put into a file.', '');
    const made = fileOf(pairing, records);
    await noteFile(this.outbox, pairing.farm, own.at(-1)?.n ?? 0);
    return {
      ...made,
      waiting: own.filter(({ state }) => state !== 'acked').length + due.length,
      all: records.length,
    };
  }

  /** Farms that this device has left, each with how many records of it are still kept here. */
  async leftFarms(): Promise<{ farm: string; tag: string; n: number }[]> {
    return (await asides(this.outbox)).map(({ farm, tag, records }) => ({ farm, tag, n: records.length }));
  }

  /** A file of what this device wrote for a farm that it has left. */
  async leftFile(farm: string): Promise<{ file: Blob; name: string; waiting: number; all: number }> {
    const found = (await asides(this.outbox)).find((one) => one.farm === farm);
    if (!found) throw new AppError('file_nothing', 'There is nothing on this device to put into a file.', '');
    return { ...fileOf(found, found.records), waiting: found.records.filter(({ receipt }) => !receipt).length, all: found.records.length };
  }

  /**
   * Takes a file's records into the queue; another farm's only where a person said that it is wanted (`foreign`):
   * they are then held until they are let count. Throws AppError; then nothing of it was taken.
   */
  async fromFile(file: Blob, foreign = false): Promise<{ fresh: number; known: number; torn: boolean }> {
    const pairing = await this.pairing();
    if (file.size > MOST_BYTES) throw new AppError('file_not_ours', 'This file holds no records of Bagtrail.', 'Choose the file that the other device made.');
    const read = readFile(await file.text(), pairing.farm);
    if (read.foreign && pairing.role === 'worker') {
      throw new AppError('file_other_farm', 'This file is from another farm.', 'If it is your own old one, an owner or manager can take it in.');
    }
    const { records, torn } = read;
    if (read.foreign && !foreign) {
      throw new AppError('file_old_farm', `This file is from another farm; it holds ${records.length} records.`, 'Take it in only if it is your own old farm.', { n: records.length });
    }
    const fresh = await this.others.take(records);
    this.sendNow();
    return { fresh, known: records.length - fresh, torn };
  }

  /** What became of the records of files: how many wait, arrived, are held, were refused. */
  async fileStanding(): Promise<FileStanding> {
    const standing = { waiting: 0, arrived: 0, known: 0, held: 0, refused: 0 };
    for (const { due, code = '' } of await this.others.imported()) {
      if (due) standing.waiting += 1;
      else if (code === 'ok') standing.arrived += 1;
      else if (code === 'dup') standing.known += 1;
      else if (code === 'big' || code === 'unauthentic') standing.refused += 1;
      else standing.held += 1;
    }
    return standing;
  }

  /**
   * Lets all records of another farm count that wait for it (owner, manager); returns how many count since. Some may
   * be left that are later than the farm's clock: they stay held.
   */
  async admitForeign(): Promise<number> {
    let all = 0;
    for (let before = Infinity; ;) {
      const { done, left } = await this.json<{ done: number; left: number }>('/api/sync/foreign/admit', {});
      all += done;
      if (left === 0 || left >= before) break;
      before = left;
    }
    this.sendNow();
    return all;
  }

  /** A record's text as it came: of this device's own, or from the log (owner, manager). */
  async came(id: string): Promise<string> {
    const own = await this.outbox.read('reading a record', (tx) => tx.objectStore('records').get(id));
    return own?.text ?? (await this.json<{ text: string }>(`/api/answers/record/${id}`)).text;
  }

  /** Takes a record that the farm's computer refused off the list; it stays here and goes into the file. */
  async layAside(id: string): Promise<void> {
    await this.outbox.write('laying a record aside', async (tx) => {
      const kept = await tx.objectStore('records').get(id);
      if (kept?.state !== 'parked') return;
      delete kept.o; // on top of nothing any more, so it neither counts here nor asks
      await tx.objectStore('records').put(kept);
    });
    // As another tab would say it: this one and all others look again at what is stored.
    const channel = new BroadcastChannel('bagtrail');
    channel.postMessage({ k: 'stored', whole: false });
    channel.close();
  }

  /** How safe the log is, and what came back after it was put back (owner, manager). */
  state(): Promise<LogState> {
    return this.json('/api/sync/state');
  }

  /** Confirms that a backup was copied away from the farm's computer (owner). */
  copiedAway(name: string): Promise<LogState> {
    return this.json('/api/sync/away', { name });
  }

  /** Makes a backup and verifies it (owner). */
  backUp(): Promise<LogState> {
    return this.json('/api/sync/backup', {});
  }

  /** Lets devices fetch again after the log was put back (owner). */
  async confirm(devices: string[]): Promise<void> {
    await this.json('/api/devices/confirm', { devices });
  }

  private async json<T>(path: string, body?: object): Promise<T> {
    const reply = await this.ask((pairing, api) => api.json(path, pairing, body));
    return reply.body as unknown as T;
  }

  private async pairing(): Promise<Pairing> {
    const pairing = await this.outbox.get<Pairing>('device');
    if (!pairing) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
    return pairing;
  }
}

function fileOf({ farm, tag, dev, letter }: Left, records: Carried[]): { file: Blob; name: string } {
  const made = Date.now();
  const day = new Date(made).toISOString().slice(0, 16).replaceAll(/[-:]/g, '').replace('T', '-');
  return {
    file: new Blob([written({ farm, dev, letter, made }, records)], { type: 'application/x-ndjson' }),
    name: `bagtrail-${tag}-${letter}-${day}.jsonl`,
  };
}
