/**
 * Moisture: water as a share of the total mass (wet basis), in 0.01 %. The twin of
 * server/bagtrail/trade/moisture.py. Nothing dries or wets the dry mass: total x (1 - moisture) = dry.
 */
import { Unfit } from './findings';
import { Ratio } from './ratio';
import { halfUp } from './whole';

/** How many 0.01 % is the whole? */
export const WHOLE = 10_000;

/** Grams at a moisture; water is [g, 10_000]. */
export type Moist = readonly [g: number, moisture: number];

/** A moisture of 0 to 99.99 % as a fraction. */
export function moisture(value: number): Ratio {
  if (!(value >= 0 && value < WHOLE)) throw new Unfit('moisture_range', { moisture: value });
  return Ratio.of(value, WHOLE);
}

/** Oven-dry grams in g grams at a moisture. Example: 2,500 g at 60 % hold 1,000. */
export function dryMass(g: Ratio | number, at: number): Ratio {
  return Ratio.one.minus(moisture(at)).times(g);
}

/** What oven-dry grams weigh at a moisture. Example: 1,000 g at 60 % are 2,500. */
export function wetMass(dry: Ratio | number, at: number): Ratio {
  return (dry instanceof Ratio ? dry : Ratio.of(dry)).over(Ratio.one.minus(moisture(at)));
}

/** The moisture of a mix, in 0.01 % half up. */
export function mixMoisture(parts: readonly Moist[]): number {
  const total = parts.reduce((sum, [g]) => sum + g, 0);
  if (total <= 0) throw new Unfit('nothing_weighed');
  const water = parts.reduce((sum, [g, at]) => sum + BigInt(g) * BigInt(at), 0n);
  return halfUp(Ratio.of(water, total));
}

/** Grams of water that bring a mix to `target`; below 0 when it is too wet by that much water. */
export function waterToAdd(parts: readonly Moist[], target: number): Ratio {
  const dry = Ratio.sum(parts.map(([g, at]) => dryMass(g, at)));
  return wetMass(dry, target).minus(Ratio.of(parts.reduce((sum, [g]) => sum + g, 0)));
}

/** What g grams weigh when their moisture changes. Example: 1,000,000 g, 25 to 14 %: 872,093 g. */
export function massAt(g: number, before: number, after: number): Ratio {
  return wetMass(dryMass(g, before), after);
}

/** How much of a second material brings g of a first one to `goal`. Example: 10,000 g, 77, 35, 60 %: 6,800 g. */
export function secondMass(g: number, first: number, second: number, goal: number): Ratio {
  const above = moisture(first).minus(moisture(goal));
  const below = moisture(goal).minus(moisture(second));
  if (above.isZero) return Ratio.zero;
  if (above.times(below).compare(0) <= 0) throw new Unfit('goal_outside', { first, second, goal });
  return above.times(g).over(below);
}

/** Water per dry mass as moisture, both 0.01 %. Example: 920 is 842. */
export function fromDryBasis(value: number): number {
  if (value < 0) throw new Unfit('moisture_range', { moisture: value });
  return halfUp(Ratio.of(BigInt(value) * BigInt(WHOLE), WHOLE + value));
}

/** Moisture as water per dry mass, both 0.01 %. Example: 6,000 is 15,000. */
export function toDryBasis(value: number): number {
  const at = moisture(value);
  return halfUp(at.times(WHOLE).over(Ratio.one.minus(at)));
}

/** A content of the material as received as one of its dry matter, in 0.01 %. */
export function ofDry(value: number, at: number): Ratio {
  return wetMass(value, at);
}

/** The moisture after some water left, in 0.01 %. Example: 2,500 g at 62 % less 50 g: 6,122. */
export function afterLoss(g: number, at: number, waterG: number): number {
  const rest = moisture(at).times(g).minus(Ratio.of(waterG));
  if (rest.compare(0) < 0 || g <= waterG) throw new Unfit('more_than_held', { water_g: waterG });
  return halfUp(rest.times(WHOLE).over(g - waterG));
}
