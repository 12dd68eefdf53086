/**
 * Sending and fetching. Push never depends on pull; a record is marked only when the answer names it; an
 * answer that is not ours changes nothing; what was acknowledged is kept, and offered again whenever the server's
 * log turns out to be another than the one this device was shown.
 */
import { signal } from '@preact/signals';
import type { LinkState } from './app-types';
import { Archive, fetchLeads, fetchLines, type Ask } from './archive';
import { Api, isOurs, LinkError, newNonce, notOurs, type Reply } from './api';
import { follows, ZERO_HASH } from './chain';
import { isInt } from './check';
import type { Clock } from './clock';
import type { Cursor, View } from './db';
import { isFullError } from './errors';
import type { Row } from './fold';
import { Hints, type Word } from './hints';
import { Ledger } from './ledger';
import type { Data } from './line';
import { macOf, resetText, revokedText, streamKey } from './mac';
import { epochOf, epochsIn, onlyGrew } from './mark';
import { MOST_OTHERS, THEIRS, type Others } from './others';
import type { Answer, Kept, Outbox, Pairing } from './outbox';
import { Puller, type Pulled, type Stored } from './pull';
import type { Archived } from './scope';
import { Turns } from './turns';

/** A push stays below the server's bound of 1 MiB inflated, with room for the envelope. */
const PUSH_BYTES = 900_000;
const MOST_RECORDS = 500;
const MOST_OFFERED = 5_000;
const PAGE = 1_000;
/** Pages of the log read through again in one turn: screens and scans come first. */
const PAGES_A_TURN = 3;
/** How long others' records are not offered after the server could not take one. */
const OTHERS_PAUSE_MS = 60_000;
/** How many of others' records a full device keeps. */
const FEW_OTHERS = 5_000;
/** Resets in a row after which it waits before it asks again. */
const MOST_RESETS = 5;

export interface SyncEvents {
  /** Rows were stored: a page, or a whole snapshot. */
  stored(change: Stored): Promise<void>;
  /** The outbox changed: records were acknowledged, parked or queued again. */
  settled(): Promise<void>;
}

/** What is pushed: own records, others' that the log lacks, or records from a file. */
type Sent = { id: string; text: string; mac: string; receipt?: string | undefined; rmac?: string | undefined };

export class Sync {
  readonly link = signal<LinkState>({ state: 'unpaired', heard: null });
  readonly ledger: Ledger;
  private readonly turns: Turns;
  private readonly hints: Hints;
  private readonly puller: Puller;
  private readonly archive: Archive;
  private size = MOST_RECORDS;
  /** Of the request under way: what a reset must answer to. */
  private nonce = '';
  private st = '';
  /** Archived batches that somebody looks at. */
  private readonly wanted = new Set<string>();
  private durable = 0;
  private pruned = '';
  private othersNotBefore = 0;
  private foreignNotBefore = 0;
  private resets = 0;

  constructor(
    private readonly outbox: Outbox,
    private readonly view: View,
    private readonly others: Others,
    private readonly api: Api,
    private readonly clock: Clock,
    private readonly pairing: () => Pairing | null,
    private readonly events: SyncEvents,
  ) {
    this.ledger = new Ledger(outbox);
    this.puller = new Puller(view, {
      lines: (units, at) => this.told((ask) => fetchLines(ask, units), at),
      leads: (records, at) => this.told((ask) => fetchLeads(ask, records), at),
    });
    this.archive = new Archive(view, outbox, clock);
    this.turns = new Turns(outbox, () => this.turn());
    this.hints = new Hints(() => this.askForNews(), () => this.fetchedMore());
  }

  /** Starts the triggers: foreground, network, a timer. Each alone is enough. */
  async start(): Promise<void> {
    const heard = await this.outbox.get<number>('heard');
    this.link.value = { state: this.pairing() ? 'silent' : 'unpaired', heard: heard ?? null };
    this.hints.start();
    this.turns.start();
  }

  async stop(): Promise<void> {
    this.hints.stop();
    await this.turns.stop();
    await this.others.close();
  }

  afterWrite(): void {
    this.turns.afterWrite();
  }

  now(): void {
    this.turns.now();
  }

  /** Pushes and pulls until both are done; resolves when there is nothing left to do now. */
  run(): Promise<void> {
    return this.turns.run();
  }

  private async turn(): Promise<boolean> {
    const pairing = this.pairing();
    if (!pairing) {
      this.tell('unpaired');
      return false;
    }
    try {
      await this.exchange(pairing);
      this.turns.succeeded();
      this.hints.wait();
      this.resets = 0;
    } catch (error) {
      await this.failed(error, pairing);
    }
    return true;
  }

  private async exchange(pairing: Pairing): Promise<void> {
    while (await this.offerOwn(pairing));
    while (await this.push(pairing));
    while (await this.pushImports(pairing));
    while (await this.pushForeign(pairing));
    await this.offerOthers(pairing);
    try {
      while (await this.pull(pairing));
      await this.reviveWanted();
    } finally {
      this.puller.forget();
    }
    this.tell('ok');
    await this.readThrough(pairing);
    await this.prune();
    const archived = await this.archive.look();
    if (archived) await this.took(archived);
  }

  // Sending

  /** Sends what waits; returns whether there is more. */
  private async push(pairing: Pairing): Promise<boolean> {
    const kept = await this.batch();
    if (!kept.length) return false;
    const [waiting, following] = await Promise.all([this.outbox.waiting(), this.outbox.queued(kept.length + 1)]);
    const left = { pending: Math.max(0, waiting.count - kept.length), oldest: following[kept.length]?.at ?? null };
    const answers = await this.send(pairing, kept, left);
    await this.events.settled();
    if (!answers.some(([, code]) => code !== 'later')) throw busy();
    return true;
  }

  /** One push; returns the answers, none of them where the present epoch is another by now. */
  private async send(pairing: Pairing, records: readonly Sent[], left: { pending: number; oldest: number | null }, path = '/api/sync/push'): Promise<Answer[]> {
    const reply = await this.post(path, pairing, {
      now: Date.now(), ...left,
      records: records.map(({ text, mac, receipt, rmac }) => (receipt && rmac ? [text, mac, receipt, rmac] : [text, mac])),
    });
    const { body } = reply;
    if (!Array.isArray(body['r'])) throw notOurs();
    const answers = (body['r'] as unknown[]).filter(isAnswer);
    const word = { epoch: String(body['epoch']), head: String(body['head']), contig: numbersIn(body['contig']), answers };
    const present = await this.ledger.settle(word, new Set(records.map(({ id }) => id)));
    await this.heard(reply);
    this.grow(reply);
    if (!present) throw busy();
    return answers;
  }

  /** Sends what was read from a file; returns whether there is more. */
  private async pushImports(pairing: Pairing): Promise<boolean> {
    const due = await this.others.due(this.size);
    if (!due.length) return false;
    const answers = await this.send(pairing, this.fitting(due), await this.whatWaits());
    return this.named(answers);
  }

  /**
   * Sends another farm's records; returns whether there is more. The server may not take them from this device (a
   * role that changed, an older version): they wait on and stop nobody.
   */
  private async pushForeign(pairing: Pairing): Promise<boolean> {
    const due = await this.others.due(this.size, THEIRS);
    if (!due.length || Date.now() < this.foreignNotBefore) return false;
    try {
      return await this.named(await this.send(pairing, this.fitting(due), await this.whatWaits(), '/api/sync/foreign'));
    } catch (error) {
      if (!(error instanceof LinkError && (error.status === 403 || error.status === 404))) throw error;
      this.foreignNotBefore = Date.now() + OTHERS_PAUSE_MS;
      return false;
    }
  }

  private async named(answers: Answer[]): Promise<boolean> {
    await this.others.named(answers.filter(([, code]) => code !== 'later').map(([id, code]) => ({ id, code })));
    await this.events.settled();
    return answers.some(([, code]) => code !== 'later');
  }

  private async whatWaits(): Promise<{ pending: number; oldest: number | null }> {
    const { count, oldest } = await this.outbox.waiting();
    return { pending: count, oldest };
  }

  // Offering, after the log was put back

  /** Offers a part of what was acknowledged; what is wanted waits again. Returns whether there is more. */
  private async offerOwn(pairing: Pairing): Promise<boolean> {
    const next = await this.ledger.toOffer(MOST_OFFERED);
    if (!next) return false;
    const byId = new Map(next.kept.map((kept) => [offeredId(kept.receipt, kept.id), kept.id]));
    const reply = await this.offer(pairing, [...byId.keys()]);
    const want = new Set([...wanted(reply.body)].map((id) => byId.get(id) ?? ''));
    await this.ledger.offered(String(reply.body['epoch']), String(reply.body['head']), want, next.to);
    await this.heard(reply);
    await this.events.settled();
    return true;
  }

  /** Offers others' records that were pulled from a log now gone, and sends those that the present one lacks. */
  private async offerOthers(pairing: Pairing): Promise<void> {
    const epoch = epochOf(await this.ledger.mark());
    if (!epoch || Date.now() < this.othersNotBefore) return;
    for (;;) {
      const pages = await this.others.toOffer(epoch, MOST_OFFERED);
      if (!pages.length) return;
      const rows = new Map(pages.flatMap((page) => page.rows).map((row) => [offeredId(row[2], ''), row]));
      const ids = [...rows.keys()];
      for (let i = 0; i < ids.length; i += MOST_OFFERED) {
        const reply = await this.offer(pairing, ids.slice(i, i + MOST_OFFERED));
        if (!(await this.ledger.heard(String(reply.body['epoch']), String(reply.body['head'])))) return;
        const want = [...wanted(reply.body)].flatMap((id) => {
          const row = rows.get(id);
          return row ? [{ id: textId(row[0]), text: row[0], mac: row[1], receipt: row[2], rmac: row[3] }] : [];
        });
        if (await this.bringBack(pairing, want)) continue;
        // A key that was taken back, or a full disk: later again; nothing was marked.
        this.othersNotBefore = Date.now() + OTHERS_PAUSE_MS;
        return;
      }
      await this.others.told(pages, epoch);
    }
  }

  /** Sends others' records; returns whether the server has a word for each. */
  private async bringBack(pairing: Pairing, records: Sent[]): Promise<boolean> {
    let todo = records;
    while (todo.length) {
      const sent = this.fitting(todo.slice(0, this.size));
      const answers = await this.send(pairing, sent, await this.whatWaits()).catch(async (error: unknown) => {
        if (!(error instanceof LinkError) || error.trouble !== 'too_big' || sent.length === 1) throw error;
        this.size = Math.max(1, sent.length >> 1);
        return null;
      });
      if (!answers) continue;
      const named = new Set(answers.filter(([, code]) => code !== 'later').map(([id]) => id));
      if (sent.some(({ id }) => !named.has(id))) return false;
      todo = todo.slice(sent.length);
    }
    return true;
  }

  private offer(pairing: Pairing, ids: string[]): Promise<Reply> {
    return this.post('/api/sync/offer', pairing, { ids });
  }

  // Fetching

  /** Fetches one page, or a snapshot where there is no cursor; returns whether there is more. */
  private async pull(pairing: Pairing): Promise<boolean> {
    const epoch = epochOf(await this.ledger.mark());
    const from = await this.view.cursor();
    if (!from) return this.snapshot(pairing);
    if (epoch && from.epoch !== epoch) {
      await this.view.unmoor(); // the app ended between the reset and this
      return true;
    }
    const reply = await this.page(pairing, `${from.epoch}.${from.pos}.${from.h}`);
    const { body } = reply;
    const to: unknown = body['to'];
    if (body['from'] !== from.pos || !isInt(to) || to < from.pos) throw notOurs();
    const epochs = epochsIn(body, from.epochs);
    if (!onlyGrew(from.epochs, epochs)) {
      // An epoch was put between others: what had been seen by whom is decided anew everywhere.
      await this.view.unmoor();
      return true;
    }
    if (to > from.pos) {
      const records = body['records'] as Pulled[];
      if (!follows(records, from.pos, from.h || ZERO_HASH, String(body['h']))) throw broken();
      const { others, freed } = await this.ledger.pulled(records, from.epoch);
      await this.keep(from.epoch, from.pos, to, others);
      const cursor: Cursor = { epoch: from.epoch, pos: to, h: String(body['h']), epochs };
      const stored = await this.puller.page(records, from, cursor);
      if (stored) await this.took(stored);
      if (freed) await this.events.settled();
    }
    await this.ledger.heard(String(body['epoch']), String(body['head']));
    await this.heard(reply);
    return body['more'] === true;
  }

  private page(pairing: Pairing, cursor: string, back?: number): Promise<Reply> {
    const more = back === undefined ? '' : `&back=${back}`;
    return this.get(`/api/sync/pull?c=${cursor}&limit=${PAGE}${more}`, pairing);
  }

  /** An archived batch that somebody looks at: the next turn that succeeds makes it whole again. */
  want(unit: string): void {
    this.wanted.add(unit);
  }

  private async reviveWanted(): Promise<void> {
    const units = [...this.wanted];
    const at = await this.view.cursor();
    if (!units.length || !at) return;
    const stored = await this.puller.revive(units, at);
    if (!stored) return;
    await this.took(stored);
    units.forEach((unit) => this.wanted.delete(unit));
  }

  /** Asks of archived batches, as they were at a cursor. */
  private async told<T>(what: (ask: Ask) => Promise<T | null>, at: Cursor): Promise<T> {
    const found = await what(async (asked) => {
      const pairing = this.pairing();
      if (!pairing) throw busy();
      const { body } = await this.post('/api/sync/lines', pairing, { pos: at.pos, ...asked });
      if (body['epoch'] !== at.epoch) throw busy();
      return body;
    });
    if (found) return found;
    await this.view.unmoor();
    throw broken();
  }

  private async snapshot(pairing: Pairing): Promise<boolean> {
    const reply = await this.api.json('/api/sync/snapshot?rows=text&scope=live', pairing);
    const { body } = reply;
    const [epoch, pos, h] = [body['epoch'], body['pos'], body['h']] as [unknown, unknown, unknown];
    if (!isOurs(body, 'snap1', pairing) || !Array.isArray(body['rows']) || !isInt(pos) || typeof h !== 'string') throw notOurs();
    const mark = await this.ledger.mark();
    if (epochOf(mark) && epochOf(mark) !== epoch) {
      // The log was put back meanwhile: a push of nothing shows what we know, and is answered by the reset.
      await this.send(pairing, [], await this.whatWaits());
      throw busy();
    }
    const cursor: Cursor = { epoch: String(epoch), pos, h, epochs: epochsIn(body, []) };
    await this.others.read({ epoch: cursor.epoch, pos: null, until: pos });
    const archived = Array.isArray(body['archived']) ? body['archived'] as Archived[] : [];
    await this.took(await this.puller.snapshot(body['rows'] as (Row | string)[], cursor, archived));
    await this.ledger.heard(cursor.epoch, `${pos}.${h}`);
    await this.heard(reply);
    return true;
  }

  private async took(stored: Stored): Promise<void> {
    await this.ledger.underneath(stored.ids);
    await this.events.stored(stored);
  }

  /**
   * A snapshot brings state, not records. The records behind it are read through a few pages at a time: they are
   * kept for the farm, and own ones learn their places in this epoch.
   */
  private async readThrough(pairing: Pairing): Promise<void> {
    for (let i = 0; i < PAGES_A_TURN; i += 1) {
      const reading = await this.others.reading();
      const cursor = await this.view.cursor();
      if (!reading || !cursor || reading.epoch !== cursor.epoch) return;
      const { strays } = await this.ledger.mark();
      const start = Math.max(strays ? 0 : this.durable, reading.until - MOST_OTHERS, 0);
      const from = reading.pos ?? start;
      if (from >= reading.until) {
        if (strays) await this.ledger.placed(reading.epoch);
        await this.others.dropOld(reading.epoch);
        await this.others.read(undefined);
        return;
      }
      const { body } = await this.page(pairing, `${cursor.epoch}.${cursor.pos}.${cursor.h}`, from);
      const to: unknown = body['to'];
      if (body['from'] !== from || body['epoch'] !== cursor.epoch || !isInt(to) || to <= from) return;
      const rows = (body['records'] as Pulled[]).filter(([, , , , pos]) => pos <= reading.until);
      const { others } = await this.ledger.pulled(rows, reading.epoch);
      await this.keep(reading.epoch, from, Math.min(to, reading.until), others);
      await this.others.read({ ...reading, pos: to });
    }
  }

  /** Keeps others' records; a full device keeps the newest of them, and in the end none: its own come first. */
  private async keep(epoch: string, from: number, to: number, rows: Pulled[]): Promise<void> {
    try {
      await this.others.keep(epoch, from, to, rows);
    } catch (error) {
      if (!isFullError(error)) throw error;
      await this.others.prune(epoch, this.durable, FEW_OTHERS);
      await this.others.keep(epoch, from, to, rows).catch(() => undefined);
    }
  }

  /** Lets go of what lies in two good backups, once a change of that. */
  private async prune(): Promise<void> {
    const epoch = epochOf(await this.ledger.mark());
    const state = `${epoch}.${this.durable}`;
    if (state === this.pruned) return;
    if ((await this.ledger.prune(this.durable, Date.now())) > 0) return; // and more of it next turn
    await this.others.prune(epoch, this.durable);
    this.pruned = state;
  }

  // Requests

  private async post(path: string, pairing: Pairing, more: Data): Promise<Reply> {
    const [{ proof }, st] = await Promise.all([this.ledger.mark(), this.outbox.anyStream()]);
    this.nonce = newNonce();
    this.st = st;
    const reply = await this.api.json(path, pairing, { farm: pairing.farm, proof, nonce: this.nonce, st, ...more });
    return this.ours(reply, pairing);
  }

  private async get(path: string, pairing: Pairing): Promise<Reply> {
    this.st = await this.outbox.anyStream();
    this.nonce = newNonce();
    return this.ours(await this.api.json(`${path}&nonce=${this.nonce}&st=${this.st}`, pairing), pairing);
  }

  private ours(reply: Reply, pairing: Pairing): Reply {
    if (!isOurs(reply.body, 'sync1', pairing, this.nonce)) throw notOurs();
    if (isInt(reply.body['durable'])) this.durable = reply.body['durable'];
    return reply;
  }

  /** As many as the last answers allowed, in order of writing. */
  private async batch(): Promise<Kept[]> {
    return this.fitting(await this.outbox.queued(this.size));
  }

  private fitting<T extends Sent>(kept: T[]): T[] {
    let bytes = 0;
    const last = kept.findIndex(({ text, receipt }) => {
      // JSON inside JSON: each quote costs one more; UTF-8 at most three bytes a unit.
      bytes += text.length * 2 + (receipt?.length ?? 0) * 2 + 200;
      return bytes > PUSH_BYTES;
    });
    return last < 0 ? kept : kept.slice(0, Math.max(1, last));
  }

  private grow(reply: Reply): void {
    if (reply.answered - reply.sent < 1_000) this.size = Math.min(MOST_RECORDS, Math.ceil(this.size * 1.5));
  }

  private async heard(reply: Reply): Promise<void> {
    if (isInt(reply.body['now'])) {
      this.clock.sample(reply.sent, reply.answered, reply.body['now']);
      await this.outbox.set('clock', this.clock.kept());
    }
    await this.outbox.set('heard', reply.answered);
    this.link.value = { ...this.link.value, heard: reply.answered };
  }

  // Hints

  private asked: Cursor | undefined;

  /** Waits at the server until its log goes beyond our cursor. */
  private async askForNews(): Promise<Word> {
    const pairing = this.pairing();
    this.asked = await this.view.cursor();
    if (!pairing || !this.asked) return 'later';
    const nonce = newNonce();
    const { epoch, pos } = this.asked;
    const { body } = await this.api.json(`/api/sync/wait?epoch=${epoch}&pos=${pos}&nonce=${nonce}`, pairing);
    if (!isOurs(body, 'wait1', pairing, nonce) || body['full'] === true) return 'later';
    return body['news'] === true ? 'news' : 'none';
  }

  /** Fetches, unless the turn under way did (our own push is news, too); whether the cursor went on. */
  private async fetchedMore(): Promise<boolean> {
    const moved = async (): Promise<boolean> => {
      const now = await this.view.cursor();
      return now !== undefined && (now.epoch !== this.asked?.epoch || now.pos !== this.asked.pos);
    };
    await this.turns.idle();
    if (await moved()) return true;
    await this.turns.run();
    return moved();
  }

  // What fails

  private async failed(error: unknown, pairing: Pairing): Promise<void> {
    if (!(error instanceof LinkError)) {
      this.tell('error', error instanceof Error ? error.message : String(error));
      this.turns.backOff(null);
      return;
    }
    switch (error.trouble) {
      case 'reset':
        if (await this.reset(error, pairing)) return;
        break;
      case 'too_big':
        await this.halve();
        return;
      case 'busy': case 'silent':
        this.size = Math.max(1, this.size >> 1);
        this.tell('silent', error.message);
        break;
      case 'offline': this.tell('offline'); break;
      case 'portal': this.tell('portal', error.message); break;
      case 'unconfirmed': this.tell('unconfirmed', error.message); break;
      case 'unpaired':
        await this.letGo(error, pairing);
        this.tell('unpaired', error.message);
        this.turns.giveUp();
        break;
      default: this.tell('error', error.message);
    }
    this.turns.backOff(error.wait);
  }

  /** A batch was too big for the server or something before it: half of it, down to one that is set aside. */
  private async halve(): Promise<void> {
    const kept = await this.batch();
    if (kept.length > 1) this.size = Math.max(1, kept.length >> 1);
    else if (kept[0]) {
      await this.ledger.park(kept[0].id, 'big');
      await this.events.settled();
    } else {
      const due = (await this.others.due(1))[0] ?? (await this.others.due(1, THEIRS))[0];
      if (!due || this.size > 1) this.size = Math.max(1, this.size >> 1);
      else await this.others.named([{ id: due.id, code: 'big' }]);
    }
    this.turns.again = true;
  }

  /**
   * The server's log is not the one we knew: it was put back, or replaced. All that is kept is offered again, and
   * the rows stay readable until a fresh snapshot comes. Only a reset counts that is MACed for us and answers this
   * very request; returns whether it did.
   */
  private async reset({ body, message }: LinkError, pairing: Pairing): Promise<boolean> {
    const { farm, epoch, nonce, mac } = body as Record<string, unknown>;
    const ours = farm === pairing.farm && typeof epoch === 'string' && nonce === this.nonce
      && mac === macOf(streamKey(pairing.key, this.st), resetText(pairing.farm, epoch, this.nonce));
    if (!ours) {
      this.tell('portal', message);
      return false;
    }
    if (!(await this.ledger.reset(epoch))) {
      // An epoch that was left before: two servers live for one farm. Carry on writing, fetch nothing.
      this.tell('two_servers', message);
      return false;
    }
    await this.view.unmoor();
    await this.events.settled();
    this.resets += 1;
    if (this.resets > MOST_RESETS) return false;
    this.turns.again = true;
    return true;
  }

  /**
   * This device's key was taken back: what it was shown of the farm goes, its own records stay and are still sent.
   * Only word that is MACed for us and answers this very request counts; any other 403 leaves everything.
   */
  private async letGo({ body }: LinkError, pairing: Pairing): Promise<void> {
    const { k, farm, nonce, mac } = body;
    if (k !== 'revoked' || farm !== pairing.farm || nonce !== this.nonce) return;
    if (mac !== macOf(streamKey(pairing.key, this.st), revokedText(pairing.farm, this.nonce))) return;
    await Promise.all([this.view.shed(), this.others.shed()]);
    await this.events.stored({ finds: [], gone: [], ids: [], cursor: undefined, whole: true });
  }

  private tell(state: LinkState['state'], message?: string): void {
    const { heard } = this.link.value;
    this.link.value = { state, heard, ...(message ? { message } : {}) };
  }
}

const busy = (): LinkError => new LinkError('busy', 'The farm\u2019s computer could not store the records now.');
const broken = (): LinkError => new LinkError('refused', 'What the farm\u2019s computer sent is not the log it showed before.');

const textId = (text: string): string => /"id"\s*:\s*"([0-9a-f-]{36})"/.exec(text)?.[1] ?? '';

/** The id a record is offered by: its receipt's, for a second text under a known id has an id of its own. */
function offeredId(receipt: string | undefined, id: string): string {
  return receipt ? (JSON.parse(receipt) as { id: string }).id : id;
}

function wanted(body: Data): Set<string> {
  const want: unknown = body['want'];
  if (!Array.isArray(want)) throw notOurs();
  return new Set(want.filter((id): id is string => typeof id === 'string'));
}

function isAnswer(value: unknown): value is Answer {
  if (!Array.isArray(value) || value.length < 5) return false;
  const [id, code, pos, receipt, rmac] = value as unknown[];
  return [id, code, receipt, rmac].every((x) => typeof x === 'string') && isInt(pos) && (receipt !== '' || pos === 0);
}

function numbersIn(value: unknown): Record<string, number> {
  return Object.fromEntries(Object.entries((value ?? {}) as Record<string, unknown>)
    .filter((entry): entry is [string, number] => isInt(entry[1])));
}
