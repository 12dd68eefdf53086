/**
 * What makes a weight at the bench doubtful: against the substrate it grew on, and against what the same bag gave
 * before. A doubt is a question; nothing is refused. All bounds are our own, for no source gives any. Grams.
 */

export interface PickKnown {
  /** Bags that the weight is of. */
  n: number;
  /** Wet substrate of a bag, and its moisture in 0.01 % wet basis. */
  fill_g?: number;
  moisture?: number;
  /** Grams picked so far of exactly these bags, by flush. */
  picked: Record<number, number>;
  flush: number;
}

export type PickDoubt =
  /** More than the wet substrate itself, a bag. */
  | { kind: 'wet'; each: number; fill_g: number }
  /** This flush with it comes to more than the oven-dry substrate (efficiency above 100 % in one flush). */
  | { kind: 'dry'; each: number; dry_g: number }
  /** A later flush that is far above the best one before it. */
  | { kind: 'flush'; total: number; best: number }
  /** Nothing known of the substrate, and more than a bag of usual size has given in one pick. */
  | { kind: 'heavy'; each: number };

/** Efficiencies of one flush above this are told of, but rarely. */
export const DRY_SHARE = 1;
/** Later flushes give less, as a rule. */
export const FLUSH_TIMES = 1.5;
export const HEAVY_G = 3_000;

/** The first reason to ask about `g` grams net, or null. */
export function pickDoubt(g: number, known: PickKnown): PickDoubt | null {
  const each = Math.round(g / Math.max(1, known.n));
  const here = (known.picked[known.flush] ?? 0) + g;
  if (known.fill_g !== undefined) {
    if (each > known.fill_g) return { kind: 'wet', each, fill_g: known.fill_g };
    if (known.moisture !== undefined) {
      const dry = Math.round((known.fill_g * (10_000 - known.moisture)) / 10_000);
      const total = Math.round(here / Math.max(1, known.n));
      if (dry > 0 && total > dry * DRY_SHARE) return { kind: 'dry', each: total, dry_g: dry };
    }
  } else if (each > HEAVY_G) return { kind: 'heavy', each };
  const before = Object.entries(known.picked).filter(([flush]) => Number(flush) < known.flush).map(([, grams]) => grams);
  const best = Math.max(0, ...before);
  return best > 0 && here > best * FLUSH_TIMES ? { kind: 'flush', total: here, best } : null;
}

export interface WeighKnown {
  /** What it was filled with, or weighed last; absent when neither is known. */
  before_g?: number;
  soaked: boolean;
}

export type WeighDoubt = { kind: 'gained' | 'lost'; before_g: number };

/** A block only loses water, but for a soak; more than this share of change is told of (0.05 = 5 %). */
export const GAIN_SHARE = 0.05;
/** Below this share of what it was, something else than this bag is on the pan. */
export const LOST_SHARE = 0.4;

export function weighDoubt(g: number, { before_g, soaked }: WeighKnown): WeighDoubt | null {
  if (before_g === undefined) return null;
  if (!soaked && g > before_g * (1 + GAIN_SHARE)) return { kind: 'gained', before_g };
  if (soaked && g > before_g * 2) return { kind: 'gained', before_g };
  return g < before_g * LOST_SHARE ? { kind: 'lost', before_g } : null;
}
