/**
 * The outbox's dealings with the server: what was acknowledged, what must be sent again, what was offered, what
 * may go. Each in one strict transaction together with the mark, so that two tabs never undo each other's word.
 * Fetched with the rest of the network half: writing never waits for it.
 */
import { afterReset, epochOf, isPresent, NO_MARK, shown, type Mark } from './mark';
import type { Answer, Kept, Outbox, Stream, Write } from './outbox';
import type { Pulled } from './pull';
import { randomHex } from './random';

/** Words of the server that mean "on the log", and "never will be"; any other leaves the record queued. */
const TAKEN = new Set(['ok', 'dup', 'held', 'fork', 'differs']);
const PARKED = new Set(['big', 'unauthentic']);

/** An acknowledged record stays this long and is among this many newest, whatever lies in backups. */
const KEEP_MS = 30 * 86_400_000;
const KEEP_NEWEST = 5_000;
/** Records looked at in one transaction of pruning. */
const PRUNE_AT_ONCE = 500;

export interface Word {
  epoch: string;
  /** `pos.h` of the log's head. */
  head: string;
  contig: Record<string, number>;
  answers: Answer[];
}

export class Ledger {
  constructor(private readonly outbox: Outbox) {}

  async mark(): Promise<Mark> {
    return (await this.outbox.get<Mark>('log')) ?? NO_MARK;
  }

  /**
   * Takes a push's good answer: marks what it names, one by one, and nothing else. Returns whether it spoke of
   * the present epoch; an answer of an epoch that was left changes nothing.
   */
  async settle(word: Word, sent: ReadonlySet<string>): Promise<boolean> {
    return this.outbox.write('marking what was sent', async (tx) => {
      const mark = await markIn(tx);
      if (!isPresent(mark, word.epoch)) return false;
      let fork = false;
      for (const [id, code, pos, receipt, rmac] of word.answers) {
        const kept = sent.has(id) ? await tx.objectStore('records').get(id) : undefined;
        if (!kept || !(PARKED.has(code) || (TAKEN.has(code) && receipt))) continue;
        if (PARKED.has(code)) park(kept, code);
        else await acknowledge(tx, kept, code, word.epoch, pos, receipt, rmac);
        fork ||= code === 'fork' && kept.st === (await streamIn(tx))?.st;
        quietly(tx.objectStore('records').put(kept));
      }
      if (fork) await mint(tx);
      else await compare(tx, word.contig);
      await tx.objectStore('meta').put(shown(mark, word.epoch, word.head), 'log');
      return true;
    });
  }

  /** Keeps what a good answer to something other than a push shows of the log. */
  async heard(epoch: string, head: string): Promise<boolean> {
    return this.outbox.write('keeping what was heard', async (tx) => {
      const mark = await markIn(tx);
      await tx.objectStore('meta').put(shown(mark, epoch, head), 'log');
      return isPresent(mark, epoch);
    });
  }

  /** Sets one record aside that the server cannot take; it is shown, never deleted. */
  async park(id: string, code: string): Promise<void> {
    await this.outbox.write('setting a record aside', async (tx) => {
      const kept = await tx.objectStore('records').get(id);
      if (!kept) return;
      park(kept, code);
      await tx.objectStore('records').put(kept);
    });
  }

  /** Begins another epoch: everything acknowledged is to be offered. False: two servers live for one farm. */
  async reset(epoch: string): Promise<boolean> {
    return this.outbox.write('beginning a new epoch', async (tx) => {
      const mark = afterReset(await markIn(tx), epoch);
      if (mark) await tx.objectStore('meta').put(mark, 'log');
      return mark !== null;
    });
  }

  /** The next acknowledged records to be offered, and where the walk ends; null when all were. */
  async toOffer(most: number): Promise<{ kept: Kept[]; to: number } | null> {
    return this.outbox.read('reading what was acknowledged', async (tx) => {
      const { own } = ((await tx.objectStore('meta').get('log')) as Mark | undefined) ?? NO_MARK;
      if (own === undefined) return null;
      const found = await tx.objectStore('records').index('n').getAll(IDBKeyRange.lowerBound(own, true), most);
      return { kept: found.filter(({ state }) => state === 'acked'), to: found.length < most ? Infinity : found.at(-1)!.n };
    });
  }

  /** Takes the answer to an offer: what is wanted waits again, and the walk goes on behind `to`. */
  async offered(epoch: string, head: string, want: ReadonlySet<string>, to: number): Promise<boolean> {
    return this.outbox.write('taking the answer to an offer', async (tx) => {
      const mark = await markIn(tx);
      if (!isPresent(mark, epoch) || mark.own === undefined) return false;
      for (const id of want) {
        const kept = await tx.objectStore('records').get(id);
        if (kept?.state === 'acked') requeue(tx, kept);
      }
      const { own: _, ...rest } = shown(mark, epoch, head);
      await tx.objectStore('meta').put(to === Infinity ? rest : { ...rest, own: to }, 'log');
      return true;
    });
  }

  /**
   * Takes pulled rows: those of ours get the log's own receipt and present place. Returns the others' rows, and
   * whether some of ours need not wait any longer.
   */
  async pulled(rows: Pulled[], epoch: string): Promise<{ others: Pulled[]; freed: boolean }> {
    return this.outbox.write('keeping what was pulled', async (tx) => {
      const others: Pulled[] = [];
      let freed = false;
      const present = isPresent(await markIn(tx), epoch);
      for (const row of rows) {
        const [text, , receipt, rmac, pos] = row;
        const id = /"id"\s*:\s*"([0-9a-f-]{36})"/.exec(text)?.[1];
        const kept = id ? await tx.objectStore('records').get(id) : undefined;
        if (!kept || kept.text !== text) {
          others.push(row);
          continue;
        }
        if (!present) continue;
        freed ||= kept.state !== 'acked';
        await acknowledge(tx, kept, kept.state === 'acked' ? kept.code ?? 'dup' : 'dup', epoch, pos, receipt, rmac);
        quietly(tx.objectStore('records').put(kept));
      }
      return { others, freed };
    });
  }

  /** Forgets that these are on top: the stored rows hold them now. */
  async underneath(ids: Iterable<string>): Promise<void> {
    await this.outbox.write('tidying', async (tx) => {
      // By what is on top: a snapshot names every record of the farm, of ours few are on top.
      const held = new Set(ids);
      for (const kept of await tx.objectStore('records').index('o').getAll()) {
        if (!held.has(kept.id)) continue;
        delete kept.o;
        quietly(tx.objectStore('records').put(kept));
      }
    });
  }

  /** Every record on the log was seen in this epoch: own ones have their places again. */
  async placed(epoch: string): Promise<void> {
    await this.outbox.write('keeping what was heard', async (tx) => {
      const { strays: _, ...rest } = await markIn(tx);
      if (epochOf(rest) === epoch) await tx.objectStore('meta').put(rest, 'log');
    });
  }

  /**
   * Lets go of own records that lie in both of the two newest good backups (`durable`, a place in this epoch),
   * except those of the last 30 days and the newest 5,000. Returns how many went.
   */
  async prune(durable: number, now: number): Promise<number> {
    if (!durable) return 0;
    return this.outbox.write('letting go of what lies in backups', async (tx) => {
      const [mark, stream] = [await markIn(tx), await streamIn(tx)];
      const epoch = epochOf(mark);
      const range = IDBKeyRange.upperBound((stream?.n ?? 0) - KEEP_NEWEST);
      let gone = 0;
      let looked = 0;
      let cursor = await tx.objectStore('records').index('n').openCursor(range);
      for (; cursor && looked < PRUNE_AT_ONCE; cursor = await cursor.continue()) {
        looked += 1;
        const { state, ep, pos, at, o } = cursor.value;
        if (state !== 'acked' || ep !== epoch || pos === undefined || pos > durable || at > now - KEEP_MS || o !== undefined) continue;
        quietly(cursor.delete());
        gone += 1;
      }
      return gone;
    });
  }
}

async function markIn(tx: Write): Promise<Mark> {
  return ((await tx.objectStore('meta').get('log')) as Mark | undefined) ?? NO_MARK;
}

async function streamIn(tx: Write): Promise<Stream | undefined> {
  return (await tx.objectStore('meta').get('stream')) as Stream | undefined;
}

/** A request whose failure its transaction tells. */
function quietly(request: Promise<unknown>): void {
  request.catch(() => undefined);
}

function park(kept: Kept, code: string): void {
  Object.assign(kept, { state: 'parked', code });
  delete kept.q;
}

async function acknowledge(tx: Write, kept: Kept, code: string, ep: string, pos: number, receipt: string, rmac: string): Promise<void> {
  Object.assign(kept, { state: 'acked', code, ep, pos, receipt, rmac });
  delete kept.q;
  // Another text under a known id: the log holds it under an id of its own, and pull brings it as held.
  if (code === 'differs') delete kept.o;
  await heal(tx, kept, receipt);
}

/**
 * What the server says it has of our stream against what we believe. More than was ever written: we are a
 * restored copy, and take a stream of our own. Less: what lies behind the gap is sent again, but only where the
 * record right at the gap was believed acknowledged; a parked one leaves a gap, too, and means no loss.
 */
async function compare(tx: Write, contig: Record<string, number>): Promise<void> {
  const stream = await streamIn(tx);
  const theirs = stream && contig[stream.st];
  if (!stream || theirs === undefined) return;
  if (theirs > stream.sq) {
    await mint(tx);
    return;
  }
  const index = tx.objectStore('records').index('place');
  const gap = await index.get([stream.st, theirs + 1]);
  if (gap?.state !== 'acked') return;
  for (const kept of await index.getAll(IDBKeyRange.bound([stream.st, theirs + 1], [stream.st, stream.sq]))) {
    if (kept.state === 'acked') requeue(tx, kept);
  }
}

async function mint(tx: Write): Promise<void> {
  const old = await streamIn(tx);
  if (old) quietly(tx.objectStore('meta').put({ ...old, st: randomHex(16), sq: 0 }, 'stream'));
}

/** Where the server put our newest time right, go on from there: a bad clock ends with its correction. */
async function heal(tx: Write, kept: Kept, receipt: string): Promise<void> {
  const stream = await streamIn(tx);
  const { t } = JSON.parse(receipt) as { t: number };
  if (!stream || stream.at !== kept.at || t >= kept.at) return;
  quietly(tx.objectStore('meta').put({ ...stream, at: t }, 'stream'));
}

/** To be sent again, and on top meanwhile: rows fetched before it is back do not hold it. */
function requeue(tx: Write, kept: Kept): void {
  kept.state = 'queued';
  kept.q = kept.n;
  kept.o = kept.n;
  quietly(tx.objectStore('records').put(kept));
}
