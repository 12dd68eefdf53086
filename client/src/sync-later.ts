/**
 * Sync as the app holds it: the code comes after the first screen, whatever is asked of it before waits. Where
 * the code cannot be had, records are written all the same and it is fetched again.
 */
import { effect, signal } from '@preact/signals';
import type { LinkState } from './app-types';
import type { Sync } from './sync';

const AGAIN_MS = 15_000;

export class LaterSync {
  readonly link = signal<LinkState>({ state: 'unpaired', heard: null });
  private made: Promise<Sync> | null = null;
  private readonly stops: (() => void)[] = [];
  private again: ReturnType<typeof setTimeout> | undefined;
  private stopped = false;

  constructor(private readonly make: () => Promise<Sync>) {}

  /** Starts the triggers once the code is here; does not wait for it. */
  start(paired: boolean): void {
    this.link.value = { state: paired ? 'silent' : 'unpaired', heard: null };
    this.load().then((sync) => (this.stopped ? undefined : sync.start())).catch((error: unknown) => {
      if (this.stopped) return;
      const message = error instanceof Error ? error.message : String(error);
      this.link.value = { ...this.link.value, state: 'error', message };
      this.again = setTimeout(() => this.start(paired), AGAIN_MS);
    });
  }

  async stop(): Promise<void> {
    this.stopped = true;
    clearTimeout(this.again);
    // A fetch that failed leaves nothing to stop.
    await this.made?.then((sync) => sync.stop(), () => undefined);
    this.stops.splice(0).forEach((stop) => stop());
  }

  /** After a write: soon, so that a row of scans goes in one request. */
  afterWrite(): void {
    this.load().then((sync) => sync.afterWrite(), () => undefined); // start() tries again, and tells
  }

  /** At once, whatever failed before. */
  now(): void {
    this.load().then((sync) => sync.now(), () => undefined);
  }

  /** Pushes and pulls until both are done. */
  async run(): Promise<void> {
    await (await this.load()).run();
  }

  /** A batch of which only the summary is here is looked at: fetched with the next turn. */
  want(unit: string): void {
    this.load().then((sync) => sync.want(unit), () => undefined); // the next look asks again
  }

  private load(): Promise<Sync> {
    this.made ??= this.make().then((sync) => {
      const { link } = sync;
      // What was told in the meantime stays until sync has something to tell.
      let first = true;
      this.stops.push(effect(() => {
        const said = link.value;
        if (!first) this.link.value = said;
        first = false;
      }));
      return sync;
    }).catch((error: unknown) => {
      this.made = null;
      throw error;
    });
    return this.made;
  }
}
