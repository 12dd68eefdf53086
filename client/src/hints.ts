/**
 * A word from the farm's computer that there is something new, while the app is in the foreground: one request
 * waits there until the log has grown. Only a hint to fetch: without it the timer fetches, and whatever goes
 * wrong here ends the waiting until the next good exchange.
 */
export type Word = 'news' | 'none' | 'later';

export class Hints {
  private on = false;
  private asking = false;

  /**
   * `ask` waits for a word about what lies behind a cursor; `fetched` fetches, and says whether that brought the
   * cursor on: where it did not, asking again at once would go round in circles.
   */
  constructor(private readonly ask: () => Promise<Word>, private readonly fetched: () => Promise<boolean>) {}

  start(): void {
    this.on = true;
  }

  stop(): void {
    this.on = false;
  }

  /** All was fetched just now: from here on a word is waited for. */
  wait(): void {
    if (this.asking || !this.here()) return;
    this.asking = true;
    void this.loop().catch(() => undefined).finally(() => { this.asking = false; });
  }

  private async loop(): Promise<void> {
    while (this.here()) {
      const word = await this.ask();
      if (word === 'later' || !this.here()) return;
      if (word === 'news' && !(await this.fetched())) return;
    }
  }

  private here(): boolean {
    return this.on && (typeof document === 'undefined' || document.visibilityState !== 'hidden');
  }
}
