/**
 * The view: what this device knows of the farm, as the server's rows brought up to the cursor. It may be
 * deleted at any time and is fetched again; own unsent records are never in it (outbox.ts has those).
 */
import type { DBSchema, IDBPTransaction } from 'idb';
import { Connection } from './connection';
import { ROW_VERSION, type Row } from './fold';
import { keyOfCode, type FindRow } from './findrow';
import type { Line } from './line';

/** Where in the log the rows stand. "" when nothing was ever pulled. */
export interface Cursor {
  epoch: string;
  pos: number;
  h: string;
  /** Epochs of this log, oldest first. */
  epochs: string[];
}

export interface Change {
  rows: { row: Row; find: FindRow }[];
  /** Units that are no more ("?" when all its codes were born). */
  gone: string[];
  /** Lines that came, for the list of the newest. */
  lines: Line[];
}

interface Schema extends DBSchema {
  units: { key: string; value: Row & { refs?: string[] }; indexes: { refs: string } };
  /** Label, or id of a birth -> the unit it leads to. */
  codes: { key: string; value: string };
  finds: { key: string; value: FindRow };
  meta: { key: string; value: unknown };
}

const STORES = ['units', 'codes', 'finds', 'meta'] as const;
type Write = IDBPTransaction<Schema, typeof STORES, 'readwrite'>;

/** How many of the newest records are kept beside the rows, to be listed without reading all of them. */
const RECENT = 2_000;

export class View {
  private readonly connection: Connection<Schema>;

  constructor(name = 'bagtrail-view', openMs?: number) {
    // Another version of the rows: everything goes, and is fetched again.
    this.connection = new Connection<Schema>(name, ROW_VERSION, (db) => {
      for (const store of [...db.objectStoreNames]) db.deleteObjectStore(store);
      db.createObjectStore('units', { keyPath: 'unit' }).createIndex('refs', 'refs', { multiEntry: true });
      db.createObjectStore('codes');
      db.createObjectStore('finds', { keyPath: 'unit' });
      db.createObjectStore('meta');
    }, openMs);
  }

  cursor(): Promise<Cursor | undefined> {
    return this.connection.run('reading the view', (db) => db.get('meta', 'cursor') as Promise<Cursor | undefined>);
  }

  /** The newest records of the log, newest first. */
  recent(): Promise<Line[]> {
    return this.connection.run('reading the view', async (db) => ((await db.get('meta', 'recent')) as Line[] | undefined) ?? []);
  }

  rows(units: string[]): Promise<Row[]> {
    return this.connection.run('reading the view', async (db) => {
      const store = db.transaction('units').store;
      const found = await Promise.all(units.map((unit) => store.get(unit)));
      return found.filter((row): row is Row => row !== undefined);
    });
  }

  finds(): Promise<FindRow[]> {
    return this.connection.run('reading the view', (db) => db.getAll('finds'));
  }

  /** The units of parts' codes, by code; codes of nothing stored are left out. */
  homesOf(codes: string[]): Promise<Map<string, string>> {
    return this.connection.run('reading the view', async (db) => {
      const store = db.transaction('codes').store;
      const found = new Map<string, string>();
      await Promise.all(codes.map(async (code) => {
        const unit = await store.get(keyOfCode(code));
        if (unit !== undefined) found.set(code, unit);
      }));
      return found;
    });
  }

  /** The units of parts' codes. */
  async homes(codes: string[]): Promise<string[]> {
    return codes.length ? [...new Set((await this.homesOf(codes)).values())] : [];
  }

  /** The units that say they depend on a place, a spawn lot, a load or a label claimed twice. */
  users(codes: string[]): Promise<string[]> {
    return this.connection.run('reading the view', async (db) => {
      const index = db.transaction('units').store.index('refs');
      const found = await Promise.all(codes.map((code) => index.getAllKeys(code)));
      return [...new Set(found.flat())];
    });
  }

  /** The units whose rows hold one of these records: a walk over all rows, for records that name nothing. */
  holding(ids: ReadonlySet<string>): Promise<string[]> {
    return this.connection.run('reading the view', async (db) => {
      const found: string[] = [];
      let cursor = await db.transaction('units').store.openCursor();
      for (; cursor; cursor = await cursor.continue()) {
        if (cursor.value.lines.some((line) => ids.has(line.id))) found.push(cursor.value.unit);
      }
      return found;
    });
  }

  /**
   * Puts a page's rows and the cursor in ONE transaction: the cursor never moves without its rows.
   * Refuses (returns false) when the stored cursor is no longer the one the page was pulled for.
   */
  put(change: Change, from: Cursor | undefined, to: Cursor): Promise<boolean> {
    return this.write(async (tx) => {
      const now = (await tx.objectStore('meta').get('cursor')) as Cursor | undefined;
      if (now?.epoch !== from?.epoch || now?.pos !== from?.pos) return false;
      await putRows(tx, change);
      await tx.objectStore('meta').put(to, 'cursor');
      return true;
    });
  }

  /** Puts a snapshot in place of everything, in one transaction. */
  async replace(change: Change, to: Cursor): Promise<void> {
    await this.write(async (tx) => {
      await Promise.all([...STORES].map((store) => tx.objectStore(store).clear()));
      await putRows(tx, change);
      await tx.objectStore('meta').put(to, 'cursor');
    });
  }

  /** Forgets where in the log the rows stand; they stay readable until a snapshot replaces them. */
  async unmoor(): Promise<void> {
    await this.write(async (tx) => { await tx.objectStore('meta').delete('cursor'); });
  }

  /** Gives the room the view takes back to the device: the outbox needs it. Clearing needs no free space. */
  async shed(): Promise<void> {
    await this.write(async (tx) => { await Promise.all([...STORES].map((store) => tx.objectStore(store).clear())); });
  }

  close(): Promise<void> {
    return this.connection.close();
  }

  private write<T>(work: (tx: Write) => Promise<T>): Promise<T> {
    return this.connection.run('storing the view', async (db) => {
      const tx = db.transaction(STORES, 'readwrite');
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

async function putRows(tx: Write, { rows, gone, lines }: Change): Promise<void> {
  const [units, finds, codes] = [tx.objectStore('units'), tx.objectStore('finds'), tx.objectStore('codes')];
  const work: Promise<unknown>[] = [];
  // A request that fails before all are waited for is told by its transaction.
  const ask = (...requests: Promise<unknown>[]): void => requests.forEach((request) => {
    request.catch(() => undefined);
    work.push(request);
  });
  const old = ((await tx.objectStore('meta').get('recent')) as Line[] | undefined) ?? [];
  ask(tx.objectStore('meta').put(newest([...old, ...lines]), 'recent'));
  const before = new Map<string, string>();
  for (const unit of [...gone, ...rows.map(({ row }) => row.unit)]) {
    for (const key of keysIn(await finds.get(unit))) before.set(key, unit);
  }
  const after = new Map<string, string>();
  for (const { row, find } of rows) {
    ask(units.put(row));
    ask(finds.put(find));
    for (const key of keysIn(find)) after.set(key, row.unit);
  }
  for (const unit of gone) {
    ask(units.delete(unit));
    ask(finds.delete(unit));
  }
  for (const key of before.keys()) if (!after.has(key)) ask(codes.delete(key));
  for (const [key, unit] of after) if (before.get(key) !== unit) ask(codes.put(unit, key));
  await Promise.all(work);
}

function newest(lines: Line[]): Line[] {
  const byId = new Map(lines.map((line) => [line.id, line]));
  return [...byId.values()].sort((a, b) => b.e - a.e || b.p - a.p).slice(0, RECENT);
}

const keysIn = (find: FindRow | undefined): string[] => (find?.keys ? find.keys.split(' ') : []);
