/** Where lines come from, and what goes wrong with it: one shape for a cable at this desk and one at the farm's computer. */

/**
 * off: not begun; open: lines come; quiet: open, but nothing for a while; refused: no permission or no port
 * chosen; gone: the cable was pulled or the power is off; busy: another program has the port; none: this
 * browser or the farm's computer has no such thing; unset: the farm's computer was told of no scale.
 */
export type SourceState = 'off' | 'opening' | 'open' | 'quiet' | 'refused' | 'gone' | 'busy' | 'none' | 'unset' | 'offline';

export interface Source {
  stop(): Promise<void>;
}

export interface Heard {
  /** One whole line of text. */
  line(text: string): void;
  state(state: SourceState): void;
}

/** A scale that sends all the time is silent this long only when it is off or waits for a key (ms). */
export const QUIET_MS = 3_000;

/** Tells `quiet` when nothing came for a while and `open` when it goes on; stop it with the returned function. */
export class Watch {
  private timer: ReturnType<typeof setTimeout> | undefined;
  private quiet = false;

  constructor(private readonly heard: Heard, private readonly ms = QUIET_MS) {
    this.wind();
  }

  came(): void {
    if (this.quiet) this.heard.state('open');
    this.quiet = false;
    this.wind();
  }

  end(): void {
    clearTimeout(this.timer);
  }

  private wind(): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => { this.quiet = true; this.heard.state('quiet'); }, this.ms);
  }
}
