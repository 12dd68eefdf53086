/** Judging a harvest before it is saved: nothing is refused, but what looks wrong is asked about. */
import type { Part } from '../app-types';
import type { Target } from './target';

/** How much more than the substrate itself can a bag give in one pick? Nothing known comes near its own wet
 * weight in a single flush, so that much is taken for a slip of the figures. (Our own bound, not a source's.) */
export const ABSURD_SHARE = 1;
/** Where the fill weight is not known: grams a bag that no usual bag of up to 5 kg has given in one pick. */
export const ABSURD_G = 3_000;

export type Doubt = { kind: 'absurd'; a_bag: number } | { kind: 'ended'; end: string } | { kind: 'none_left' } | null;

/** What makes a weight doubtful for the bags named; null when nothing does. */
export function doubt(target: Pick<Target, 'n' | 'part'>, grams: number): Doubt {
  const part: Part | undefined = target.part;
  if (part?.end) return { kind: 'ended', end: part.end };
  if (target.n < 1) return { kind: 'none_left' };
  const each = grams / target.n;
  const bound = part?.fill_g ? part.fill_g * ABSURD_SHARE : ABSURD_G;
  return each > bound ? { kind: 'absurd', a_bag: Math.round(each) } : null;
}

/** Which flush a pick belongs to, unless somebody says otherwise. */
export const proposedFlush = (part: Pick<Part, 'next' | 'flush'> | undefined): number =>
  part?.next ?? Math.max(1, part?.flush ?? 1);
