/**
 * The photographs this device took, in a database of their own: apart from the records, so that neither waits for
 * the other and a full one never takes the other along. A picture is let go only once it lies in a backup.
 */
import type { DBSchema } from 'idb';
import { AppError } from '../app-types';
import { Connection } from '../connection';
import { isFull } from '../errors';

/** Own pictures on one device; beyond that new ones are refused, and none is deleted for them (bytes). */
export const CAP = 200 << 20;
/** So much has to stay free for records (bytes). */
export const SPARE = 10 << 20;

export interface Picture {
  sha: string;
  at: number;
  data: ArrayBuffer;
  /** 1 while it waits to be sent: the index of what waits. */
  q?: 1;
  /** Why the farm's computer will not have it. */
  refused?: string;
}

interface Schema extends DBSchema {
  pictures: { key: string; value: Picture; indexes: { q: number } };
}

export class PhotoStore {
  private readonly connection: Connection<Schema>;

  constructor(name = 'bagtrail-photos', private readonly cap = CAP) {
    this.connection = new Connection<Schema>(name, 1, (db) => {
      db.createObjectStore('pictures', { keyPath: 'sha' }).createIndex('q', 'q');
    });
  }

  /** Keeps a picture and queues it. Throws AppError `photos_full` where there is no room; nothing else is touched. */
  async put(sha: string, bytes: Uint8Array<ArrayBuffer>, at: number): Promise<void> {
    if ((await this.size()) + bytes.length > this.cap || (await noSpare(bytes.length))) throw full();
    try {
      await this.connection.run('keeping a photograph', async (db) => {
        const tx = db.transaction('pictures', 'readwrite', { durability: 'strict' });
        const had = await tx.store.get(sha);
        if (!had) void tx.store.put({ sha, at, data: bytes.slice().buffer, q: 1 }).catch(() => undefined);
        await tx.done;
      });
    } catch (error) {
      throw isFull(error) || (error instanceof AppError && error.details['full']) ? full() : error;
    }
  }

  get(sha: string): Promise<Picture | undefined> {
    return this.connection.run('reading a photograph', (db) => db.get('pictures', sha));
  }

  /** Names of what is kept, oldest first. */
  async names(): Promise<string[]> {
    return this.connection.run('reading photographs', async (db) => (await db.getAllKeys('pictures')).map(String));
  }

  /** The next one to be sent. */
  next(): Promise<Picture | undefined> {
    return this.connection.run('reading photographs', (db) => db.getFromIndex('pictures', 'q', 1));
  }

  waiting(): Promise<number> {
    return this.connection.run('reading photographs', (db) => db.countFromIndex('pictures', 'q', 1));
  }

  /** It is on the farm's computer, or was refused there for good. */
  async settled(sha: string, refused?: string): Promise<void> {
    await this.change(sha, ({ q: _, ...rest }) => ({ ...rest, ...(refused ? { refused } : {}) }));
  }

  async again(sha: string): Promise<void> {
    await this.change(sha, (old) => ({ ...old, q: 1 }));
  }

  async drop(shas: string[]): Promise<void> {
    await this.connection.run('letting photographs go', async (db) => {
      const tx = db.transaction('pictures', 'readwrite');
      await Promise.all([...shas.map((sha) => tx.store.delete(sha)), tx.done]);
    });
  }

  private async change(sha: string, how: (old: Picture) => Picture): Promise<void> {
    await this.connection.run('noting a photograph', async (db) => {
      const tx = db.transaction('pictures', 'readwrite');
      const old = await tx.store.get(sha);
      if (old) await tx.store.put(how(old));
      await tx.done;
    });
  }

  private async size(): Promise<number> {
    return this.connection.run('reading photographs', async (db) => {
      let sum = 0;
      for (let at = await db.transaction('pictures').store.openCursor(); at; at = await at.continue()) sum += at.value.data.byteLength;
      return sum;
    });
  }
}

const full = (): AppError => new AppError('photos_full', 'There is no room for photographs on this device.',
  'Records are kept as ever. Bring the device near the farm\u2019s computer, or free some space.');

async function noSpare(bytes: number): Promise<boolean> {
  const { quota, usage }: StorageEstimate = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  return quota !== undefined && usage !== undefined && quota - usage < bytes + SPARE;
}
