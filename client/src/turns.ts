/**
 * When to talk with the server: after a write, when the network or the page comes back, every 15 s; one tab at a
 * time; after a failure not before its time. Each trigger alone is enough.
 */
import type { Outbox } from './outbox';
import { randomHex } from './random';

/** A row of scans goes in few requests: while one is under way the next gather. */
const AFTER_WRITE_MS = 40;
const EVERY_MS = 15_000;
const BACKOFF_FIRST_MS = 2_000;
const BACKOFF_MOST_MS = 300_000;
const BUSY_TAB_MS = 400;
const LOCK = 'bagtrail-sync';
const LEASE_MS = 60_000;

export class Turns {
  /** One more turn is wanted when this one is over. */
  again = false;
  private failures = 0;
  private notBefore = 0;
  /** What the server asked for by Retry-After; nothing shortens that. */
  private holdUntil = 0;
  private running: Promise<void> | null = null;
  private soon: ReturnType<typeof setTimeout> | undefined;
  private readonly owner = randomHex(24);
  private readonly stops: (() => void)[] = [];

  /** `work` is one turn; it returns false where nothing can be done at all now, and tells failures itself. */
  constructor(private readonly outbox: Outbox, private readonly work: () => Promise<boolean>) {}

  start(): void {
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

  /** After a write, or a word that there is something new. */
  afterWrite(): void {
    this.later(AFTER_WRITE_MS);
  }

  /** At once, whatever failed before; only the server can ask for more patience. */
  now(): void {
    this.failures = 0;
    this.notBefore = this.holdUntil;
    void this.run();
  }

  /** Resolves when there is nothing left to do now. */
  run(): Promise<void> {
    this.again = true;
    return (this.running ??= this.loop().finally(() => { this.running = null; }));
  }

  /** Resolves when the turn under way is over. */
  async idle(): Promise<void> {
    await this.running;
  }

  /** All went well: the next failure waits little again. */
  succeeded(): void {
    this.failures = 0;
  }

  /** Nothing but a person helps: asked again seldom. */
  giveUp(): void {
    this.failures = 8;
  }

  /** Full jitter, doubling; what the server asked for is kept to. */
  backOff(wait: number | null): void {
    const most = Math.min(BACKOFF_MOST_MS, BACKOFF_FIRST_MS * 2 ** this.failures);
    this.failures += 1;
    const delay = wait === null ? Math.random() * most : wait * (1 + Math.random() / 2);
    this.notBefore = Date.now() + delay;
    if (wait !== null) this.holdUntil = this.notBefore;
    this.later(delay + 1);
  }

  private later(ms: number): void {
    clearTimeout(this.soon);
    this.soon = setTimeout(() => { void this.run(); }, ms);
  }

  private async loop(): Promise<void> {
    while (this.again) {
      this.again = false;
      if (Date.now() < this.notBefore) return;
      if (!(await this.alone().catch(() => this.storageFailed()))) return;
    }
  }

  /** Who is to send could not be read or kept: later again. A save tells a storage that fails; nothing was sent. */
  private storageFailed(): false {
    this.backOff(null);
    return false;
  }

  /** One tab at a time: Web Locks, else a lease; without either the server still takes each record once. */
  private async alone(): Promise<boolean> {
    const locks = typeof navigator === 'undefined' ? undefined : navigator.locks;
    if (locks) {
      return locks.request(LOCK, { ifAvailable: true }, async (lock) => {
        if (lock) return this.work();
        // The other tab may have looked before this one wrote.
        if ((await this.outbox.waiting()).count) this.later(BUSY_TAB_MS);
        return false;
      });
    }
    const lease = await this.outbox.change<{ owner: string; until: number }>('lease', (old) => (
      old && old.owner !== this.owner && old.until > Date.now() ? old : { owner: this.owner, until: Date.now() + LEASE_MS }
    ));
    if (lease.owner !== this.owner) {
      if ((await this.outbox.waiting()).count) this.later(BUSY_TAB_MS);
      return false;
    }
    try {
      return await this.work();
    } finally {
      await this.outbox.change<{ owner: string; until: number }>('lease', (old) => (
        old && old.owner !== this.owner ? old : { owner: this.owner, until: 0 }
      ));
    }
  }
}
