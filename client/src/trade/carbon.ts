/** Carbon to nitrogen of a mix, with its range; the twin of server/bagtrail/trade/carbon.py. */
import { Unfit } from './findings';
import { WHOLE, dryMass } from './moisture';
import { Ratio } from './ratio';
import { halfUp } from './whole';

/** [lowest, likely, highest], in 0.01 % of dry. */
export type Range = readonly [low: number, likely: number, high: number];

export interface Content {
  dry: number;
  c: Range;
  n: Range;
}

/** C:N in hundredths; null where there may be no nitrogen at all. `dominant` is an index. */
export interface CarbonRatio {
  likely: number | null;
  low: number | null;
  high: number | null;
  c: number;
  n: number;
  dominant: number | null;
}

type Row = readonly [dry: number, c: number, n: number];

/** Carbon over nitrogen, never a mean of ratios. Example: 80 wood + 20 bran is 69.8. */
export function ratio(contents: readonly Content[]): CarbonRatio {
  for (const { dry, c, n } of contents) {
    for (const [low, likely, high] of [c, n]) {
      if (!(low >= 0 && low <= likely && likely <= high && high <= WHOLE) || dry < 0) {
        throw new Unfit('content_range', { low, likely, high });
      }
    }
  }
  const dry = contents.reduce((sum, x) => sum + x.dry, 0);
  if (dry === 0) throw new Unfit('no_ingredient');
  const likely = contents.map((x): Row => [x.dry, x.c[1], x.n[1]]);
  const [c, n] = sums(likely);
  return {
    likely: rounded(over(likely)),
    low: rounded(over(contents.map((x): Row => [x.dry, x.c[0], x.n[2]]))),
    high: rounded(over(contents.map((x): Row => [x.dry, x.c[2], x.n[0]]))),
    c: halfUp(Ratio.of(c, dry)),
    n: halfUp(Ratio.of(n, dry)),
    dominant: dominant(contents),
  };
}

/** [moisture, C of dry, N of dry], 0.01 %. */
export type Material = readonly [moisture: number, c: number, n: number];

/** Grams of a second material that bring g of a first one to a C:N in hundredths. */
export function massForRatio(g: number, first: Material, second: Material, goal: number): Ratio {
  const excess = ([, c, n]: Material): Ratio => Ratio.of(c).minus(Ratio.of(goal * n, 100));
  const missing = dryMass(g, first[0]).times(Ratio.zero.minus(excess(first)));
  const brought = dryMass(1, second[0]).times(excess(second));
  if (missing.isZero) return Ratio.zero;
  if (missing.times(brought).compare(0) <= 0) throw new Unfit('goal_outside', { goal });
  return missing.over(brought);
}

/** Crude protein as nitrogen, both 0.01 %: over 6.25. Example: 1,400 is 224. */
export function nitrogenOfProtein(protein: number): number {
  return halfUp(Ratio.of(protein * 4, 25));
}

/** Carbon of dry matter from its ash, both 0.01 %: (100 - ash) / 1.8. */
export function carbonOfAsh(ash: number): number {
  return halfUp(Ratio.of((WHOLE - ash) * 5, 9));
}

function sums(rows: readonly Row[]): [bigint, bigint] {
  const add = (pick: 1 | 2): bigint => rows.reduce((sum, r) => sum + BigInt(r[0]) * BigInt(r[pick]), 0n);
  return [add(1), add(2)];
}

function over(rows: readonly Row[]): Ratio | null {
  const [c, n] = sums(rows);
  return n ? Ratio.of(100n * c, n) : null;
}

function rounded(x: Ratio | null): number | null {
  return x && halfUp(x);
}

/** The ingredient that, varied alone with the others likely, widens the ratio most. */
function dominant(contents: readonly Content[]): number | null {
  let widest: { width: Ratio; index: number } | null = null;
  for (const [index, own] of contents.entries()) {
    const others = contents.filter((_, j) => j !== index).map((x): Row => [x.dry, x.c[1], x.n[1]]);
    const low = over([...others, [own.dry, own.c[0], own.n[2]]]);
    const high = over([...others, [own.dry, own.c[2], own.n[0]]]);
    if (low && !high) return index;
    if (!low || !high || high.compare(low) === 0) continue;
    const width = high.minus(low);
    if (!widest || width.compare(widest.width) > 0) widest = { width, index };
  }
  return widest && widest.index;
}
