/**
 * The outbox: the records this device wrote, in a database of its own whose version never changes, so that no
 * update of the app ever has to migrate a queued write. What becomes of them once they are sent: ledger.ts.
 *
 * A record's number in its stream, its time and its text are made inside the transaction that stores it:
 * two tabs never use a number twice, and what is stored is byte for byte what is sent.
 */
import type { DBSchema, IDBPDatabase, IDBPTransaction } from 'idb';
import { AppError } from './app-types';
import type { ClockStamp } from './clock';
import { Connection } from './connection';
import type { Data } from './line';
import { MAX_TEXT_BYTES } from './line';
import { randomHex } from './random';

export type State = 'queued' | 'acked' | 'parked';

/** One record of ours. `q` is there while it waits, `o` while no stored row holds it yet. */
export interface Kept {
  id: string;
  /** Order of writing on this device. */
  n: number;
  q?: number;
  o?: number;
  st: string;
  sq: number;
  at: number;
  act?: string;
  text: string;
  mac: string;
  state: State;
  /** The server's word for it: ok, dup, held, fork, differs; big, unauthentic when parked. */
  code?: string;
  /** Its present place in the log, and in which epoch that is. */
  pos?: number;
  ep?: string;
  receipt?: string;
  rmac?: string;
}

/** What pairing gave. `key` is K in hex. */
export interface Pairing {
  farm: string;
  tag: string;
  name: string;
  zone: string;
  dev: string;
  gen: number;
  key: string;
  role: 'owner' | 'manager' | 'worker';
  by: string;
  letter: string;
}

export interface Stream {
  st: string;
  sq: number;
  at: number;
  n: number;
}

/** A record before it has its number: everything the envelope needs but st, sq and at. */
export interface Ready {
  id: string;
  ty: string;
  tv: number;
  sub: string[];
  except?: string[];
  on?: { ms: number; p: 'm' | 'd' };
  rnd?: string;
  d: Data;
}

/** One line of the server's answer to a push. */
export type Answer = [id: string, code: string, pos: number, receipt: string, rmac: string];

export interface Schema extends DBSchema {
  records: {
    key: string;
    value: Kept;
    indexes: { n: number; q: number; o: number; place: [string, number] };
  };
  meta: { key: string; value: unknown };
}

export type Write = IDBPTransaction<Schema, ['records', 'meta'], 'readwrite'>;
type Macs = typeof import('./mac');

let macs: Promise<Macs> | undefined;

/** Fetched as soon as there is an outbox and then kept: a save never meets the files of another version. */
function loadMacs(): Promise<Macs> {
  macs ??= import('./mac').catch((error: unknown) => {
    macs = undefined;
    throw error;
  });
  return macs;
}

export class Outbox {
  private readonly connection: Connection<Schema>;
  private readonly keys = new Map<string, Uint8Array>();

  constructor(name = 'bagtrail-outbox', openMs?: number) {
    loadMacs().catch(() => undefined); // append() tries again, and tells
    // Version 1 for ever: a queued write is never migrated.
    this.connection = new Connection<Schema>(name, 1, (db) => {
      const records = db.createObjectStore('records', { keyPath: 'id' });
      records.createIndex('n', 'n');
      records.createIndex('q', 'q');
      records.createIndex('o', 'o');
      records.createIndex('place', ['st', 'sq']);
      db.createObjectStore('meta');
    }, openMs);
  }

  /**
   * Writes records as one act, in one strict transaction; resolves only when it is complete.
   * `floor` is the least time they may have: after everything they follow.
   */
  async append(ready: Ready[], act: string | undefined, base: string, clock: () => ClockStamp, floor: number): Promise<Kept[]> {
    // Before the transaction: it would end while anything else is waited for.
    const signing = await loadMacs();
    return this.write('saving a record', async (tx) => {
      // A lost connection may have swallowed the news of a commit: then the work is done already.
      const there = await Promise.all(ready.map((one) => tx.objectStore('records').get(one.id)));
      if (there.every((kept) => kept !== undefined)) return there as Kept[];
      const meta = tx.objectStore('meta');
      const pairing = await pairingIn(meta.get('device'));
      const stream = ((await meta.get('stream')) as Stream | undefined) ?? { st: randomHex(16), sq: 0, at: 0, n: 0 };
      const kept = ready.map((one) => this.make(signing, one, act, base, clock(), floor, pairing, stream));
      for (const one of kept) quietly(tx.objectStore('records').add(one));
      quietly(meta.put(stream, 'stream'));
      return kept;
    });
  }

  /** The records that wait, in order of writing. */
  queued(limit: number): Promise<Kept[]> {
    return this.connection.run('reading what waits', (db) => db.getAllFromIndex('records', 'q', null, limit));
  }

  /** The records that no stored row holds yet, in order of writing. */
  onTop(): Promise<Kept[]> {
    return this.connection.run('reading own records', (db) => db.getAllFromIndex('records', 'o'));
  }

  /** How many wait, and the `at` of the oldest. */
  waiting(): Promise<{ count: number; oldest: number | null }> {
    return this.connection.run('counting what waits', async (db) => {
      const [count, first] = await Promise.all([
        db.countFromIndex('records', 'q'), db.getAllFromIndex('records', 'q', null, 1),
      ]);
      return { count, oldest: first[0]?.at ?? null };
    });
  }

  /** The newest records of this device, newest first. */
  newest(limit: number): Promise<Kept[]> {
    return this.connection.run('reading own records', async (db) => {
      const found: Kept[] = [];
      let cursor = await db.transaction('records').store.index('n').openCursor(null, 'prev');
      for (; cursor && found.length < limit; cursor = await cursor.continue()) found.push(cursor.value);
      return found;
    });
  }

  get<T>(name: string): Promise<T | undefined> {
    return this.connection.run(`reading ${name}`, (db) => db.get('meta', name) as Promise<T | undefined>);
  }

  async set(name: string, value: unknown): Promise<void> {
    await this.write(`saving ${name}`, async (tx) => { await tx.objectStore('meta').put(value, name); });
  }

  /** Reads and changes one value in one transaction; returns what was put. */
  async change<T>(name: string, change: (old: T | undefined) => T): Promise<T> {
    return this.write(`saving ${name}`, async (tx) => {
      const value = change((await tx.objectStore('meta').get(name)) as T | undefined);
      await tx.objectStore('meta').put(value, name);
      return value;
    });
  }

  /** The stream being written to; "" before the first record. */
  async stream(): Promise<string> {
    return (await this.get<Stream>('stream'))?.st ?? '';
  }

  /** A stream exists from here on; returns its id. */
  async anyStream(): Promise<string> {
    const stream = await this.change<Stream>('stream', (old) => old ?? { st: randomHex(16), sq: 0, at: 0, n: 0 });
    return stream.st;
  }

  close(): Promise<void> {
    return this.connection.close();
  }

  private make({ macOf, streamKey }: Macs, one: Ready, act: string | undefined, base: string, clock: ClockStamp, floor: number, pairing: Pairing, stream: Stream): Kept {
    stream.sq += 1;
    stream.n += 1;
    // The HLC rule in one integer: after our own last, after all we follow, else the corrected clock.
    stream.at = Math.max(stream.at + 1, clock.w + clock.o, floor);
    const text = JSON.stringify({
      v: 1, id: one.id, dev: pairing.dev, gen: pairing.gen, st: stream.st, sq: stream.sq, at: stream.at,
      ...(one.on ? { on: one.on } : {}), cl: { w: clock.w, o: clock.o, q: clock.q }, tz: clock.tz,
      ty: one.ty, tv: one.tv, sub: one.sub, ...(one.except?.length ? { except: one.except } : {}),
      base, by: pairing.by, ...(act ? { act } : {}), ...(one.rnd ? { rnd: one.rnd } : {}), d: one.d,
    });
    const bytes = new TextEncoder().encode(text).length;
    if (bytes > MAX_TEXT_BYTES) {
      throw new AppError('too_long', `This record is ${bytes} bytes long, more than ${MAX_TEXT_BYTES}.`,
        'Take fewer bags at a time, or shorten the text.', { bytes, max: MAX_TEXT_BYTES, field: one.ty });
    }
    let key = this.keys.get(stream.st);
    if (!key) this.keys.set(stream.st, (key = streamKey(pairing.key, stream.st)));
    return {
      id: one.id, n: stream.n, q: stream.n, o: stream.n, st: stream.st, sq: stream.sq, at: stream.at,
      ...(act ? { act } : {}), text, mac: macOf(key, text), state: 'queued',
    };
  }

  /** One reading transaction over both stores. */
  read<T>(doing: string, work: (tx: IDBPTransaction<Schema, ['records', 'meta'], 'readonly'>) => Promise<T>): Promise<T> {
    return this.connection.run(doing, (db) => work(db.transaction(['records', 'meta'])));
  }

  /** One strict transaction over both stores; resolves in oncomplete, rejects when it aborts. */
  write<T>(doing: string, work: (tx: Write) => Promise<T>): Promise<T> {
    return this.connection.run(doing, (db) => strictly(db, work));
  }
}

async function strictly<T>(db: IDBPDatabase<Schema>, work: (tx: Write) => Promise<T>): Promise<T> {
  const tx = db.transaction(['records', 'meta'], 'readwrite', { durability: 'strict' });
  let out: T;
  try {
    out = await work(tx);
  } catch (error) {
    try {
      tx.abort();
    } catch {
      // It is over already; what it failed with counts.
    }
    const cause = await tx.done.then(() => null, (why: unknown) => why);
    // The request's own error says more than the AbortError that follows from it.
    throw error instanceof Error && error.name !== 'AbortError' ? error : (cause ?? error);
  }
  await tx.done;
  return out;
}

/** A request whose failure its transaction tells. */
function quietly(request: Promise<unknown>): void {
  request.catch(() => undefined);
}

async function pairingIn(found: Promise<unknown>): Promise<Pairing> {
  const pairing = (await found) as Pairing | undefined;
  if (!pairing) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
  return pairing;
}
