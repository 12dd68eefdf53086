/** The drying test; the twin of server/bagtrail/trade/drying.py, where the sources stand. */
import { Unfit, finding, type Finding } from './findings';
import { WHOLE, moisture } from './moisture';
import { Ratio } from './ratio';
import { halfUp } from './whole';

/** How far may repeats lie apart? 1 % moisture, our choice. */
export const REPEATS_APART = 100;
/** How much may the last drying still have taken? 0.1 % of the dry sample, our choice. */
export const STILL_DRYING = 10;
/** How much of gypsum is crystal water, in 0.01 %? 20.9 % (ICSC 1215). */
export const GYPSUM_WATER = 2_090;

/** One sample in any one whole unit; `dry_before` is the weighing before the last. */
export interface Reading {
  wet: number;
  dry: number;
  tare?: number;
  dry_before?: number | null;
}

/** Moistures in 0.01 %: of each reading, their mean, and highest less lowest. */
export interface Drying {
  each: number[];
  mean: number;
  spread: number;
  findings: Finding[];
}

/** (wet - dry) / (wet - tare). Example: 14 wet, 6.3 dry, 4 tare is 77 %. */
export function drying(readings: readonly Reading[], gypsum = 0): Drying {
  if (!readings.length) throw new Unfit('no_reading');
  const exact = readings.map(one);
  const each = exact.map(halfUp);
  const mean = halfUp(Ratio.sum(exact).over(exact.length));
  const spread = Math.max(...each) - Math.min(...each);
  const findings: Finding[] = [];
  if (spread > REPEATS_APART) findings.push(finding('repeats_apart', 'warn', '', { spread }));
  readings.forEach((r, i) => {
    if (r.dry_before == null) return;
    if ((r.dry_before - r.dry) * WHOLE > STILL_DRYING * (r.dry - (r.tare ?? 0))) {
      findings.push(finding('still_drying', 'warn', '', { reading: i + 1 }));
    }
  });
  if (gypsum) findings.push(finding('gypsum_water', 'note', '', { most: gypsumWater(gypsum, mean) }));
  return { each, mean, spread, findings };
}

/** By how much gypsum's crystal water can raise a mix's oven moisture, in 0.01 %. */
export function gypsumWater(share: number, at: number): number {
  return halfUp(Ratio.of(share * GYPSUM_WATER, WHOLE).times(Ratio.one.minus(moisture(at))));
}

function one(r: Reading, index: number): Ratio {
  const tare = r.tare ?? 0;
  if (!(r.wet >= r.dry && r.dry > tare && tare >= 0)) throw new Unfit('reading_order', { reading: index + 1 });
  return Ratio.of(BigInt(WHOLE) * BigInt(r.wet - r.dry), r.wet - tare);
}
