/**
 * Sending and fetching. Push never depends on pull; a record is marked only when the answer names it; an
 * answer that is not ours changes nothing. One sender at a time, many triggers, and what fails is tried again.
 */
import { signal } from '@preact/signals';
import type { LinkState } from './app-types';
import { Api, isOurs, LinkError, newNonce, notOurs, type Reply } from './api';
import { isInt } from './check';
import type { Clock } from './clock';
import type { Cursor, View } from './db';
import type { Row } from './fold';
import type { Data } from './line';
import { macOf, resetText, streamKey } from './mac';
import type { Answer, Kept, Outbox, Pairing } from './outbox';
import { Puller, type Pulled, type Stored } from './pull';

/** A push stays below the server's bound of 1 MiB inflated, with room for the envelope. */
const PUSH_BYTES = 900_000;
const MOST_RECORDS = 500;
const PAGE = 1_000;
const AFTER_WRITE_MS = 300;
const EVERY_MS = 15_000;
const BACKOFF_FIRST_MS = 2_000;
const BACKOFF_MOST_MS = 300_000;
const LOCK = 'bagtrail-sync';
const LEASE_MS = 60_000;

export interface SyncEvents {
  /** Rows were stored: a page, or a whole snapshot. */
  stored(change: Stored): Promise<void>;
  /** The outbox changed: records were acknowledged, parked or queued again. */
  settled(): Promise<void>;
}

export class Sync {
  readonly link = signal<LinkState>({ state: 'unpaired', heard: null });
  private readonly puller: Puller;
  private readonly owner = newNonce();
  private size = MOST_RECORDS;
  private failures = 0;
  private notBefore = 0;
  /** What the server asked for by Retry-After; nothing shortens that. */
  private holdUntil = 0;
  private running: Promise<void> | null = null;
  private again = false;
  private soon: ReturnType<typeof setTimeout> | undefined;
  private readonly stops: (() => void)[] = [];

  constructor(
    private readonly outbox: Outbox,
    private readonly view: View,
    private readonly api: Api,
    private readonly clock: Clock,
    private readonly pairing: () => Pairing | null,
    private readonly events: SyncEvents,
  ) {
    this.puller = new Puller(view);
  }

  /** Starts the triggers: foreground, network, a timer. Each alone is enough. */
  async start(): Promise<void> {
    const heard = await this.outbox.get<number>('heard');
    this.link.value = { state: this.pairing() ? 'silent' : 'unpaired', heard: heard ?? null };
    const on = (target: EventTarget | undefined, name: string, act: () => void): void => {
      target?.addEventListener(name, act);
      this.stops.push(() => target?.removeEventListener(name, act));
    };
    const page = typeof document === 'undefined' ? undefined : document;
    on(globalThis as unknown as EventTarget, 'online', () => this.now());
    on(globalThis as unknown as EventTarget, 'pageshow', () => this.now());
    on(page, 'visibilitychange', () => { if (page?.visibilityState === 'visible') this.now(); });
    const timer = setInterval(() => { if (page?.visibilityState !== 'hidden') void this.run(); }, EVERY_MS);
    this.stops.push(() => clearInterval(timer));
    this.now();
  }

  async stop(): Promise<void> {
    this.stops.splice(0).forEach((stop) => stop());
    clearTimeout(this.soon);
    this.again = false;
    await this.running;
  }

  /** After a write: soon, so that a row of scans goes in one request. */
  afterWrite(): void {
    clearTimeout(this.soon);
    this.soon = setTimeout(() => { void this.run(); }, AFTER_WRITE_MS);
  }

  /** At once, whatever failed before; only the server can ask for more patience. */
  now(): void {
    this.failures = 0;
    this.notBefore = this.holdUntil;
    void this.run();
  }

  /** Pushes and pulls until both are done; resolves when there is nothing left to do now. */
  run(): Promise<void> {
    this.again = true;
    return (this.running ??= this.loop().finally(() => { this.running = null; }));
  }

  private async loop(): Promise<void> {
    while (this.again) {
      this.again = false;
      const pairing = this.pairing();
      if (!pairing) {
        this.tell('unpaired');
        return;
      }
      if (Date.now() < this.notBefore) return;
      try {
        await this.alone(() => this.exchange(pairing));
        this.failures = 0;
      } catch (error) {
        await this.failed(error, pairing);
      }
    }
  }

  private async exchange(pairing: Pairing): Promise<void> {
    while (await this.push(pairing));
    try {
      while (await this.pull(pairing));
    } finally {
      this.puller.forget();
    }
    this.tell('ok');
  }

  /** Sends what waits; returns whether there is more. */
  private async push(pairing: Pairing): Promise<boolean> {
    const kept = await this.batch();
    if (!kept.length) return false;
    const [waiting, st, proof] = await Promise.all([
      this.outbox.waiting(), this.outbox.anyStream(), this.outbox.get<string>('proof'),
    ]);
    const rest = (await this.outbox.queued(kept.length + 1))[kept.length];
    const nonce = newNonce();
    const reply = await this.api.json('/api/sync/push', pairing, {
      farm: pairing.farm, proof: proof ?? '', nonce, now: Date.now(), st,
      pending: Math.max(0, waiting.count - kept.length), oldest: rest?.at ?? null,
      records: kept.map(({ text, mac, receipt, rmac }) => (receipt && rmac ? [text, mac, receipt, rmac] : [text, mac])),
    });
    const { body } = reply;
    if (!isOurs(body, 'sync1', pairing, nonce) || !Array.isArray(body['r'])) throw notOurs();
    const answers = (body['r'] as unknown[]).filter(isAnswer);
    await this.outbox.settle(answers, new Set(kept.map(({ id }) => id)));
    await this.outbox.compare(numbersIn(body['contig']));
    await this.heard(reply, `${body['epoch']}.${body['head']}`);
    this.grow(reply);
    await this.events.settled();
    const settled = answers.filter(([, code]) => code !== 'later').length;
    if (!settled) throw new LinkError('busy', 'The farm\u2019s computer could not store the records now.');
    return true;
  }

  /** Fetches one page, or a snapshot where there is no cursor; returns whether there is more. */
  private async pull(pairing: Pairing): Promise<boolean> {
    const from = await this.view.cursor();
    if (!from) return this.snapshot(pairing);
    const [nonce, st] = [newNonce(), await this.outbox.anyStream()];
    const reply = await this.api.json(
      `/api/sync/pull?c=${from.epoch}.${from.pos}.${from.h}&limit=${PAGE}&nonce=${nonce}&st=${st}`, pairing,
    );
    const { body } = reply;
    const to: unknown = body['to'];
    if (!isOurs(body, 'sync1', pairing, nonce) || body['from'] !== from.pos || !isInt(to) || to < from.pos) throw notOurs();
    const records = body['records'] as Pulled[];
    if (to > from.pos) {
      const cursor: Cursor = { epoch: body['epoch'], pos: to, h: body['h'], epochs: epochsOf(body, from.epochs) };
      const stored = await this.puller.page(records, from, cursor);
      if (stored) await this.took(stored);
    }
    await this.heard(reply, `${body['epoch']}.${body['head']}`);
    return body['more'] === true;
  }

  private async snapshot(pairing: Pairing): Promise<boolean> {
    const reply = await this.api.json('/api/sync/snapshot', pairing);
    const { body } = reply;
    if (!isOurs(body, 'snap1', pairing) || !Array.isArray(body['rows']) || !isInt(body['pos'])) throw notOurs();
    const cursor: Cursor = { epoch: body['epoch'], pos: body['pos'], h: body['h'], epochs: epochsOf(body, []) };
    await this.took(await this.puller.snapshot(body['rows'] as Row[], cursor));
    await this.heard(reply, `${cursor.epoch}.${cursor.pos}.${cursor.h}`);
    return true;
  }

  private async took(stored: Stored): Promise<void> {
    await this.outbox.underneath(stored.ids);
    await this.events.stored(stored);
  }

  /** As many as the last answers allowed, in order of writing. */
  private async batch(): Promise<Kept[]> {
    const kept = await this.outbox.queued(this.size);
    let bytes = 0;
    const fitting = kept.findIndex(({ text, receipt }) => {
      // JSON inside JSON: each quote costs one more; UTF-8 at most three bytes a unit.
      bytes += text.length * 2 + (receipt?.length ?? 0) * 2 + 200;
      return bytes > PUSH_BYTES;
    });
    return fitting < 0 ? kept : kept.slice(0, Math.max(1, fitting));
  }

  private grow(reply: Reply): void {
    if (reply.answered - reply.sent < 1_000) this.size = Math.min(MOST_RECORDS, Math.ceil(this.size * 1.5));
  }

  private async heard(reply: Reply, proof: string): Promise<void> {
    if (isInt(reply.body['now'])) {
      this.clock.sample(reply.sent, reply.answered, reply.body['now']);
      await this.outbox.set('clock', this.clock.kept());
    }
    await this.outbox.set('heard', reply.answered);
    if (/^e[0-9a-z]{11}\.[0-9]{1,15}\.[0-9a-f]{32}$/.test(proof)) await this.outbox.set('proof', proof);
    this.link.value = { ...this.link.value, heard: reply.answered };
  }

  private async failed(error: unknown, pairing: Pairing): Promise<void> {
    if (!(error instanceof LinkError)) {
      this.tell('error', error instanceof Error ? error.message : String(error));
      this.backOff(null);
      return;
    }
    switch (error.trouble) {
      case 'reset':
        if (await this.reset(error.body, pairing)) return;
        this.tell('error', error.message);
        break;
      case 'too_big': await this.halve(); break;
      case 'busy': this.size = Math.max(1, this.size >> 1); this.tell('silent', error.message); break;
      case 'silent': this.size = Math.max(1, this.size >> 1); this.tell('silent', error.message); break;
      case 'offline': this.tell('offline'); break;
      case 'portal': this.tell('portal', error.message); break;
      case 'unpaired': this.tell('unpaired', error.message); this.failures = 8; break;
      default: this.tell('error', error.message);
    }
    if (error.trouble !== 'too_big') this.backOff(error.wait);
  }

  /** A batch was too big for the server or something before it: half of it, down to one that is set aside. */
  private async halve(): Promise<void> {
    const kept = await this.batch();
    if (kept.length > 1) this.size = Math.max(1, kept.length >> 1);
    else if (kept[0]) {
      await this.outbox.park(kept[0].id, 'big');
      await this.events.settled();
    }
    this.again = true;
  }

  /** Full jitter, doubling; what the server asked for is kept to. */
  private backOff(wait: number | null): void {
    const most = Math.min(BACKOFF_MOST_MS, BACKOFF_FIRST_MS * 2 ** this.failures);
    this.failures += 1;
    const delay = wait === null ? Math.random() * most : wait * (1 + Math.random() / 2);
    this.notBefore = Date.now() + delay;
    if (wait !== null) this.holdUntil = this.notBefore;
    clearTimeout(this.soon);
    this.soon = setTimeout(() => { void this.run(); }, delay + 1);
  }

  /**
   * The server's log is not the one we knew: it was put back, or replaced. Everything of ours is offered
   * again, the rows stay readable until a fresh snapshot comes. Only a reset MACed for us counts.
   */
  private async reset(body: Data, pairing: Pairing): Promise<boolean> {
    const st = await this.outbox.anyStream();
    const { farm, epoch, nonce, mac } = body as Record<string, unknown>;
    if (farm !== pairing.farm || typeof epoch !== 'string' || typeof nonce !== 'string') return false;
    if (mac !== macOf(streamKey(pairing.key, st), resetText(pairing.farm, epoch, nonce))) return false;
    const before = (await this.view.cursor())?.epoch;
    const seen = (await this.outbox.get<string[]>('epochs')) ?? [];
    // An epoch that was left before comes again: two servers live for one farm. Carry on writing, fetch nothing.
    if (seen.includes(epoch) && before !== epoch) return false;
    await this.outbox.set('epochs', [...new Set([...seen, ...(before && before !== epoch ? [before] : [])])]);
    await this.outbox.requeueAll();
    await this.outbox.allOnTop();
    await this.outbox.set('proof', '');
    await this.view.unmoor();
    await this.events.settled();
    this.again = true;
    return true;
  }

  private tell(state: LinkState['state'], message?: string): void {
    const { heard } = this.link.value;
    this.link.value = { state, heard, ...(message ? { message } : {}) };
  }

  /** One tab at a time: Web Locks, else a lease; without either the server still takes each record once. */
  private async alone(work: () => Promise<void>): Promise<void> {
    const locks = typeof navigator === 'undefined' ? undefined : navigator.locks;
    if (locks) {
      await locks.request(LOCK, { ifAvailable: true }, async (lock) => { if (lock) await work(); });
      return;
    }
    const lease = await this.outbox.change<{ owner: string; until: number }>('lease', (old) => (
      old && old.owner !== this.owner && old.until > Date.now() ? old : { owner: this.owner, until: Date.now() + LEASE_MS }
    ));
    if (lease.owner !== this.owner) return;
    try {
      await work();
    } finally {
      await this.outbox.change<{ owner: string; until: number }>('lease', (old) => (
        old && old.owner !== this.owner ? old : { owner: this.owner, until: 0 }
      ));
    }
  }
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

function epochsOf(body: Data, before: string[]): string[] {
  const said: unknown = body['epochs'];
  return Array.isArray(said) && said.every((x) => typeof x === 'string') ? said : before;
}
