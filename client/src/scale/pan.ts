/**
 * The pan of a scale as a small machine: empty, moving, still, taken, and empty again. A load is given out once
 * and not again until the pan was empty, so that one bag is one weight. Pure: no clock, no screen. Grams.
 */
import type { LineReading, ScaleUnit } from './lines';

export type PanState = 'empty' | 'moving' | 'still' | 'taken' | 'over';

/** So little on the pan is no load: a leaf, a drop, the zero creeping (g). Also the least that can be weighed. */
export const LEAST_G = 5;
/** Readings this near to each other are one weight (g). */
export const SPREAD_G = 1;
/** How many in a row make it still: without a flag of the scale's own, and with one. One alone never does,
 * for a torn line can look like a whole one. */
export const SAME = 4;
export const SAME_FLAGGED = 2;
/** Readings in a row below the least that make the pan empty. */
export const EMPTY = 2;
/** Lines in a row that say nothing: the speed or the cable is wrong, not a single stray byte. */
export const NOISY = 8;

export interface Fed {
  state: PanState;
  /** The scale was switched to another unit between this line and the one before. */
  unitChanged: boolean;
  /** Nothing that could be read for many lines. */
  noisy: boolean;
}

export class Pan {
  state: PanState = 'empty';
  /** Last reading, with the crate. */
  gross = 0;
  unit: ScaleUnit | null = null;
  private crate = 0;
  private near: number[] = [];
  private flagged = 0;
  private low = 0;
  private noise = 0;

  get tare(): number {
    return this.crate;
  }

  /** What is on the pan without the crate, whole grams rounded half up. */
  get net(): number {
    return Math.floor(this.gross - this.crate + 0.5);
  }

  /** Weighs without a crate of so many grams from now on; what lies there has to come to rest anew. */
  setTare(grams: number): void {
    this.crate = grams;
    this.near = [];
    this.flagged = 0;
    if (this.state !== 'taken') this.state = this.gross - grams < LEAST_G ? 'empty' : 'moving';
  }

  feed(reading: LineReading): Fed {
    if (reading.kind !== 'weight') return this.feedOther(reading);
    this.noise = 0;
    const unitChanged = this.unit !== null && this.unit !== reading.unit;
    if (unitChanged) this.unsettle();
    this.unit = reading.unit;
    this.gross = reading.grams;
    const net = reading.grams - this.crate;
    this.low = net < LEAST_G ? this.low + 1 : 0;
    if (net < LEAST_G) {
      this.unsettle();
      if (this.low >= EMPTY) this.state = 'empty';
      else if (this.state !== 'taken') this.state = this.state === 'empty' ? 'empty' : 'moving';
    } else this.load(reading.grams, reading.still);
    return { state: this.state, unitChanged, noisy: false };
  }

  /** Gives out the load once: net whole grams, or null where nothing lies still. */
  take(): number | null {
    if (this.state !== 'still') return null;
    this.state = 'taken';
    return this.net;
  }

  /** Forgets what lay there: another scale, or the line was cut. The tare stays. */
  reset(): void {
    this.unsettle();
    this.low = 0;
    this.noise = 0;
    this.gross = 0;
    this.unit = null;
    this.state = 'empty';
  }

  private feedOther(reading: LineReading): Fed {
    this.unsettle();
    if (reading.kind === 'over') {
      this.noise = 0;
      if (this.state !== 'taken') this.state = 'over';
    } else {
      this.noise += 1;
      if (this.state === 'still') this.state = 'moving';
    }
    return { state: this.state, unitChanged: false, noisy: this.noise >= NOISY };
  }

  private load(grams: number, still: boolean | null): void {
    const all = [...this.near, grams];
    if (still === false || Math.max(...all) - Math.min(...all) > SPREAD_G) {
      this.near = still === false ? [] : [grams];
      this.flagged = still ? 1 : 0;
    } else {
      this.near = all.slice(-SAME);
      this.flagged = still ? this.flagged + 1 : 0;
    }
    if (this.state === 'taken') return;
    this.state = this.flagged >= SAME_FLAGGED || this.near.length >= SAME ? 'still' : 'moving';
  }

  private unsettle(): void {
    this.near = [];
    this.flagged = 0;
  }
}
