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

/** A row as it is stored: its JSON text, which is stored and read in a third of the time its objects take. */
export interface RowText {
  unit: string;
  refs?: string[];
  /** Of a summary: the time of its batch's newest record, ms UTC. */
  archived?: number;
  text: string;
}

export interface Change {
  rows: { row: RowText; find: FindRow }[];
  /** Units that are no more ("?" when all its codes were born). */
  gone: string[];
  /** Lines that came, for the list of the newest. */
  lines: Line[];
}

interface Schema extends DBSchema {
  units: { key: string; value: RowText; indexes: { refs: string; archived: number } };
  /** Labels and ids of births that lead to a unit. One row a unit: 20,000 of a row each took a phone seconds. */
  codes: { key: string; value: { unit: string; keys: string[] }; indexes: { keys: string } };
  finds: { key: string; value: FindRow };
  meta: { key: string; value: unknown };
}

const STORES = ['units', 'codes', 'finds', 'meta'] as const;
type Write = IDBPTransaction<Schema, typeof STORES, 'readwrite'>;

/** Of the stores below; with another number the view is fetched again. */
const STORES_VERSION = 2;
export const VIEW_VERSION = ROW_VERSION * 100 + STORES_VERSION;
/** How many of the newest records are kept beside the rows, to be listed without reading all of them. */
const RECENT = 2_000;

export class View {
  readonly connection: Connection<Schema>;

  constructor(readonly name = 'bagtrail-view', openMs?: number) {
    // A database for each version of rows and stores: a tab of another version, and a change back, find their own.
    this.connection = new Connection<Schema>(`${name}-${VIEW_VERSION}`, 1, (db) => {
      const units = db.createObjectStore('units', { keyPath: 'unit' });
      units.createIndex('refs', 'refs', { multiEntry: true });
      units.createIndex('archived', 'archived');
      db.createObjectStore('codes', { keyPath: 'unit' }).createIndex('keys', 'keys', { multiEntry: true });
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
      return found.flatMap((row) => (row ? [JSON.parse(row.text) as Row] : []));
    });
  }

  finds(): Promise<FindRow[]> {
    return this.connection.run('reading the view', (db) => db.getAll('finds'));
  }

  /** The units of parts' codes, by code; codes of nothing stored are left out. */
  homesOf(codes: string[]): Promise<Map<string, string>> {
    return this.connection.run('reading the view', async (db) => {
      const index = db.transaction('codes').store.index('keys');
      const found = new Map<string, string>();
      await Promise.all(codes.map(async (code) => {
        const unit = await index.getKey(keyOfCode(code));
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
        const { unit, text } = cursor.value;
        if ([...ids].some((id) => text.includes(id)) && (JSON.parse(text) as Row).lines.some((line) => ids.has(line.id))) found.push(unit);
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
      await putRows(tx, change, false);
      await tx.objectStore('meta').put(to, 'cursor');
      return true;
    });
  }

  /** Puts a snapshot in place of everything, in one transaction. */
  async replace(change: Change, to: Cursor): Promise<void> {
    await this.write(async (tx) => {
      await Promise.all([...STORES].map((store) => tx.objectStore(store).clear()));
      await putRows(tx, change, true);
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

  /** One transaction over all of the view, which is whole or is not. */
  write<T>(work: (tx: Write) => Promise<T>): Promise<T> {
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

/** `fresh`: the stores are empty, so nothing is compared with what was there. */
async function putRows(tx: Write, { rows, gone, lines }: Change, fresh: boolean): Promise<void> {
  const [units, finds, codes] = [tx.objectStore('units'), tx.objectStore('finds'), tx.objectStore('codes')];
  const work: Promise<unknown>[] = [];
  // A request that fails before all are waited for is told by its transaction.
  const ask = (request: Promise<unknown>): void => {
    request.catch(() => undefined);
    work.push(request);
  };
  const old = ((await tx.objectStore('meta').get('recent')) as Line[] | undefined) ?? [];
  ask(tx.objectStore('meta').put(newest([...old, ...lines]), 'recent'));
  const before = fresh ? [] : await Promise.all(rows.map(({ find }) => finds.get(find.unit)));
  rows.forEach(({ row, find }, i) => {
    ask(units.put(row));
    ask(finds.put(find));
    // A batch's labels hardly ever change, and there may be hundreds.
    if (fresh || before[i]?.keys !== find.keys) ask(codes.put({ unit: find.unit, keys: find.keys ? find.keys.split(' ') : [] }));
  });
  for (const unit of gone) for (const store of [units, finds, codes]) ask(store.delete(unit));
  await Promise.all(work);
}

function newest(lines: Line[]): Line[] {
  const byId = new Map(lines.map((line) => [line.id, line]));
  return [...byId.values()].sort((a, b) => b.e - a.e || b.p - a.p).slice(0, RECENT);
}
