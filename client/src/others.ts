/**
 * Others' records as they were pulled: text, MAC and receipt, kept until they lie in two good backups, so that any
 * phone can give the farm back what a server put back to an older state has lost. Kept page by page in a database
 * of its own whose version never changes; and beside them what was read from an exported file and waits to be sent.
 */
import type { DBSchema, IDBPTransaction } from 'idb';
import { Connection } from './connection';
import type { Pulled } from './pull';

/** Rows `from + 1 ... to` of an epoch's log, as far as they are not of this device's own outbox. */
export interface Page {
  n?: number;
  /** In which epoch they were pulled, and of which they were last offered to the log. */
  ep: string;
  told: string;
  from: number;
  to: number;
  rows: Pulled[];
}

/** A record from a file: it waits until the server has named it. `code` is the server's word. */
export interface Imported {
  id: string;
  text: string;
  mac: string;
  receipt?: string;
  rmac?: string;
  /** The other farm whose file it came in; no seal of that one can be checked here. */
  from?: string;
  /** There while it waits: for the push, or to be sent as another farm's. */
  due?: typeof OURS | typeof THEIRS;
  code?: string;
}

/** How far the log was read through again: rows up to `pos`, until `until`. */
export interface Reading {
  epoch: string;
  pos: number | null;
  until: number;
}

interface Schema extends DBSchema {
  pages: { key: number; value: Page; indexes: { place: [string, number]; told: string } };
  imports: { key: string; value: Imported; indexes: { due: number } };
  meta: { key: string; value: unknown };
}

export const OURS = 1;
export const THEIRS = 2;

const STORES = ['pages', 'imports', 'meta'] as const;
type Write = IDBPTransaction<Schema, typeof STORES, 'readwrite'>;

/** Pages smaller than this grow by what comes next. */
const PAGE_ROWS = 200;
/** The most others' records kept where nothing lies in backups: about 40 MB. */
export const MOST_OTHERS = 50_000;
const REFUSED = new Set(['big', 'unauthentic']);

export class Others {
  private readonly connection: Connection<Schema>;

  constructor(name = 'bagtrail-others', openMs?: number) {
    this.connection = new Connection<Schema>(name, 1, (db) => {
      const pages = db.createObjectStore('pages', { keyPath: 'n', autoIncrement: true });
      pages.createIndex('place', ['ep', 'from']);
      pages.createIndex('told', 'told');
      db.createObjectStore('imports', { keyPath: 'id' }).createIndex('due', 'due');
      db.createObjectStore('meta');
    }, openMs);
  }

  /** Keeps rows `from + 1 ... to` of an epoch's log; before the cursor moves over them. */
  async keep(ep: string, from: number, to: number, rows: Pulled[]): Promise<void> {
    await this.write('keeping others\u2019 records', async (tx) => {
      const store = tx.objectStore('pages');
      const last = await store.index('place').openCursor(IDBKeyRange.bound([ep, 0], [ep, from]), 'prev');
      const page = last?.value;
      if (page && page.to >= to) return; // kept before the cursor was stopped half-way
      if (page && page.to === from && page.told === ep && page.rows.length < PAGE_ROWS) {
        await store.put({ ...page, to, rows: [...page.rows, ...rows] });
      } else await store.add({ ep, told: ep, from, to, rows });
    });
  }

  /** Pages that were not offered to the log of this epoch, oldest first, up to about so many records. */
  async toOffer(epoch: string, most: number): Promise<Page[]> {
    return this.connection.run('reading others\u2019 records', async (db) => {
      const index = db.transaction('pages').store.index('told');
      const found: Page[] = [];
      let n = 0;
      for (const range of [IDBKeyRange.upperBound(epoch, true), IDBKeyRange.lowerBound(epoch, true)]) {
        let cursor = await index.openCursor(range);
        for (; cursor && (n === 0 || n + cursor.value.rows.length <= most); cursor = await cursor.continue()) {
          found.push(cursor.value);
          n += cursor.value.rows.length;
        }
      }
      return found;
    });
  }

  /** The log of this epoch has all of these pages' records. */
  async told(pages: Page[], epoch: string): Promise<void> {
    await this.write('keeping what was offered', async (tx) => {
      for (const { n } of pages) {
        const page = n === undefined ? undefined : await tx.objectStore('pages').get(n);
        if (page) await tx.objectStore('pages').put({ ...page, told: epoch });
      }
    });
  }

  /** Lets go of pages of epochs that were left, once the log has their records and was read through. */
  async dropOld(epoch: string): Promise<void> {
    await this.write('letting go of old copies', async (tx) => {
      let cursor = await tx.objectStore('pages').index('told').openCursor(epoch);
      for (; cursor; cursor = await cursor.continue()) if (cursor.value.ep !== epoch) await cursor.delete();
    });
  }

  /** Lets go of pages that lie in both of the two newest good backups whole, and of the oldest beyond the bound. */
  async prune(epoch: string, durable: number, most = MOST_OTHERS): Promise<void> {
    await this.write('letting go of what lies in backups', async (tx) => {
      const store = tx.objectStore('pages');
      let kept = 0;
      let cursor = await store.index('place').openCursor(IDBKeyRange.bound([epoch, 0], [epoch, Infinity]), 'prev');
      for (; cursor; cursor = await cursor.continue()) {
        kept += cursor.value.rows.length;
        const { to, told } = cursor.value;
        if (told === epoch && (to <= durable || kept > most)) await cursor.delete();
      }
    });
  }

  async count(): Promise<number> {
    return this.connection.run('counting others\u2019 records', async (db) => {
      let n = 0;
      let cursor = await db.transaction('pages').store.openCursor();
      for (; cursor; cursor = await cursor.continue()) n += cursor.value.rows.length;
      return n;
    });
  }

  /** Every kept row, for tests and exports. */
  async all(): Promise<Pulled[]> {
    return this.connection.run('reading others\u2019 records', async (db) => (await db.getAll('pages')).flatMap(({ rows }) => rows));
  }

  // Records from a file

  /**
   * Puts records from a file into the queue; returns how many were not here already. One that the server refused
   * as forged or too long makes way for the same record with another seal or text.
   */
  async take(found: Imported[]): Promise<number> {
    return this.write('keeping what was in the file', async (tx) => {
      let fresh = 0;
      for (const one of found) {
        const here = await tx.objectStore('imports').get(one.id);
        if (here && (here.due || !REFUSED.has(here.code ?? '') || (here.text === one.text && here.mac === one.mac && here.from === one.from))) continue;
        await tx.objectStore('imports').put({ ...one, due: one.from === undefined ? OURS : THEIRS });
        fresh += 1;
      }
      return fresh;
    }, 'strict');
  }

  due(limit: number, whose: typeof OURS | typeof THEIRS = OURS): Promise<Imported[]> {
    return this.connection.run('reading what was in the file', (db) => db.getAllFromIndex('imports', 'due', whose, limit));
  }

  dueCount(): Promise<number> {
    return this.connection.run('counting what was in the file', (db) => db.countFromIndex('imports', 'due'));
  }

  imported(): Promise<Imported[]> {
    return this.connection.run('reading what was in the file', (db) => db.getAll('imports'));
  }

  /** Keeps the server's words for records from a file. */
  async named(words: { id: string; code: string }[]): Promise<void> {
    await this.write('marking what was sent', async (tx) => {
      for (const { id, code } of words) {
        const one = await tx.objectStore('imports').get(id);
        if (!one) continue;
        const { due: _, ...rest } = one;
        await tx.objectStore('imports').put({ ...rest, code });
      }
    });
  }

  // How far the log was read through again

  reading(): Promise<Reading | undefined> {
    return this.connection.run('reading', (db) => db.get('meta', 'reading') as Promise<Reading | undefined>);
  }

  async read(reading: Reading | undefined): Promise<void> {
    await this.write('keeping how far was read', async (tx) => {
      if (reading) await tx.objectStore('meta').put(reading, 'reading');
      else await tx.objectStore('meta').delete('reading');
    });
  }

  /** Gives the room back to the device: another farm, or no space for the outbox. */
  async shed(): Promise<void> {
    await this.write('making room', async (tx) => { await Promise.all([tx.objectStore('pages').clear(), tx.objectStore('meta').clear()]); });
  }

  close(): Promise<void> {
    return this.connection.close();
  }

  private write<T>(doing: string, work: (tx: Write) => Promise<T>, durability: 'strict' | 'default' = 'default'): Promise<T> {
    return this.connection.run(doing, async (db) => {
      const tx = db.transaction(STORES, 'readwrite', { durability });
      try {
        const out = await work(tx);
        await tx.done;
        return out;
      } catch (error) {
        try {
          tx.abort();
        } catch {
          // It is over already.
        }
        const cause = await tx.done.then(() => null, (why: unknown) => why);
        throw error instanceof Error && error.name !== 'AbortError' ? error : (cause ?? error);
      }
    });
  }
}
