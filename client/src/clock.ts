/**
 * The device's clock against the server's: each exchange gives a sample, the one with the shortest way
 * counts for a day. A clock that jumps between two looks makes every sample worthless.
 */

export interface ClockStamp {
  /** Wall clock, ms UTC. */
  w: number;
  /** Server minus wall, ms. */
  o: number;
  q: 'sync' | 'stale' | 'none' | 'jump';
  /** Minutes east of UTC. */
  tz: number;
}

interface Sample {
  offset: number;
  rtt: number;
  at: number;
}

const DAY_MS = 86_400_000;
const JUMP_MS = 2_000;

export class Clock {
  private best: Sample | null = null;
  private jumped = false;
  private lead: number;

  constructor(
    private readonly wall: () => number = () => Date.now(),
    private readonly steady: () => number = () => performance.now(),
  ) {
    this.lead = this.wall() - this.steady();
  }

  /** Takes up the sample that an earlier session kept. */
  restore(sample: Sample | undefined): void {
    if (sample && !this.best) this.best = sample;
  }

  /** What to keep for the next session. */
  kept(): Sample | null {
    return this.best;
  }

  /** Notes one exchange: sent and answered by this clock, and the server's time in the answer. */
  sample(sent: number, answered: number, server: number): void {
    this.look();
    const rtt = Math.max(0, answered - sent);
    const fresh = { offset: Math.round(server - (sent + answered) / 2), rtt, at: answered };
    const best = this.best;
    if (!best || this.jumped || fresh.at - best.at > DAY_MS || rtt <= best.rtt) {
      this.best = fresh;
      this.jumped = false;
    }
  }

  stamp(): ClockStamp {
    this.look();
    const w = this.wall();
    const tz = -new Date(w).getTimezoneOffset();
    if (this.jumped) return { w, o: 0, q: 'jump', tz };
    if (!this.best) return { w, o: 0, q: 'none', tz };
    return { w, o: this.best.offset, q: w - this.best.at > DAY_MS ? 'stale' : 'sync', tz };
  }

  private look(): void {
    const lead = this.wall() - this.steady();
    // A phone that slept stops its steady clock too: only a wall clock set by hand is a jump back or ahead
    // while the page runs, and both look alike, so the sample is dropped until the next exchange.
    if (Math.abs(lead - this.lead) > JUMP_MS) {
      // A second jump before the next exchange does not unsay the first.
      this.jumped ||= this.best !== null;
      this.best = null;
      this.lead = lead;
    }
  }
}
