/** From exact fractions to whole grams; the twin of server/bagtrail/trade/whole.py. */
import { roundHalfUp } from '../rules';
import { Ratio } from './ratio';

/** The nearest whole number, a half going up. */
export function halfUp(x: Ratio): number {
  return Number(roundHalfUp(x.n, x.d));
}

/** A float as the nearest whole number, a half going up, alike in both languages. */
export function nearest(x: number): number {
  return Math.floor(x + 0.5);
}

/** `nearest`, or the word for what is no number, for a message. */
export function inWords(x: number): number | string {
  return Number.isFinite(x) ? nearest(x) : String(x);
}

/** The least whole number that is not below x. */
export function ceiling(x: Ratio): number {
  return Number(-Ratio.of(-x.n, x.d).floor());
}

/**
 * Fractions as whole numbers that add up to `total`, each less than one from its own: every number is
 * cut, then the largest remainders get what is missing, the first of equal ones first.
 * Example: [1/3, 1/3, 1/3] of 1 is [1, 0, 0].
 */
export function largestRemainder(exact: readonly Ratio[], total: number): number[] {
  const cut = exact.map((x) => Number(x.floor()));
  const missing = total - cut.reduce((a, b) => a + b, 0);
  if (missing < 0 || missing > exact.length) throw new RangeError(`${total} is not the rounded sum`);
  const rest = exact.map((x, i) => ({ x: x.minus(Ratio.of(cut[i] ?? 0)), i }));
  rest.sort((a, b) => b.x.compare(a.x) || a.i - b.i);
  for (const { i } of rest.slice(0, missing)) cut[i] = (cut[i] ?? 0) + 1;
  return cut;
}

/**
 * Whole amounts dealt out over equal portions: one row a portion. The grams one amount leaves over go on
 * where those of the amount before it ended. Example: [10, 5] over 3 is [[4, 1], [3, 2], [3, 2]].
 */
export function spread(amounts: readonly number[], ways: number): number[][] {
  const rows = Array.from({ length: ways }, () => amounts.map((amount) => Math.floor(amount / ways)));
  let at = 0;
  amounts.forEach((amount, column) => {
    for (let left = amount % ways; left > 0; left -= 1) {
      const row = rows[at % ways];
      if (row) row[column] = (row[column] ?? 0) + 1;
      at += 1;
    }
  });
  return rows;
}
