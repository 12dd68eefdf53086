/** Weighing in; the twin of server/bagtrail/trade/weigh.py. */
import { ofWeight } from './cautions';
import { Unfit, finding, type Finding } from './findings';
import { WHOLE, dryMass, mixMoisture, waterToAdd, type Moist } from './moisture';
import { Ratio } from './ratio';
import { halfUp, largestRemainder } from './whole';

/** How far may a weight be off the plan before it is asked about, 0.01 % of it? */
export const TOLERANCE = 200;

export interface Weighing {
  name: string;
  planned_g: number;
  moisture: number;
  actual_g?: number | null;
}

/** A charge as it stands on the scale; lines not yet weighed count as planned. */
export interface Weighed {
  done: boolean;
  water_g: number;
  total_g: number;
  moisture: number;
  dry_g: number;
  shares: number[];
  off: (number | null)[];
  findings: Finding[];
}

/** The mix that the actual weights make, and the water it takes. */
export function weighIn(
  lines: readonly Weighing[], target: number, addedWaterG: number | null = null, tolerance = TOLERANCE,
): Weighed {
  if (lines.some((x) => x.planned_g < 0 || (x.actual_g ?? 0) < 0) || (addedWaterG ?? 0) < 0) {
    throw new Unfit('amount_range');
  }
  const parts = lines.map((x): Moist => [x.actual_g ?? x.planned_g, x.moisture]);
  const sum = parts.reduce((total, [g]) => total + g, 0);
  if (sum === 0) throw new Unfit('nothing_weighed');
  const wanted = waterToAdd(parts, target);
  const waterG = Math.max(0, halfUp(wanted));
  const water = addedWaterG ?? waterG;
  const reached = mixMoisture([...parts, [water, WHOLE]]);
  const findings = lines.flatMap((x) => checkLine(x, tolerance));
  if (wanted.compare(0) < 0 && reached > target) {
    findings.push(finding('too_wet', 'warn', '', { target, reached }));
  }
  const dry = parts.map(([g, at]) => dryMass(g, at));
  const total = Ratio.sum(dry);
  return {
    done: lines.every((x) => x.actual_g != null),
    water_g: waterG,
    total_g: sum + water,
    moisture: reached,
    dry_g: halfUp(total),
    shares: largestRemainder(dry.map((d) => d.over(total).times(WHOLE)), WHOLE),
    off: lines.map(offOf),
    findings,
  };
}

/** A bag's oven-dry grams, half up: what biological efficiency is counted against. */
export function dryPerBag(fillG: number, moisture: number): number {
  return halfUp(dryMass(fillG, moisture));
}

function offOf(line: Weighing): number | null {
  if (line.actual_g == null || line.planned_g === 0) return null;
  return halfUp(Ratio.of(BigInt(line.actual_g - line.planned_g) * BigInt(WHOLE), line.planned_g));
}

function checkLine({ name, planned_g, actual_g }: Weighing, tolerance: number): Finding[] {
  if (actual_g == null) return [];
  const off = Math.abs(actual_g - planned_g);
  // A gram is always forgiven: two per cent of 30 g of gypsum is no weight a scale can show.
  if (off <= 1 || off * WHOLE <= tolerance * planned_g) return [];
  const mixed = ofWeight(name, planned_g, actual_g);
  return mixed.length ? mixed : [finding('weight_off', 'warn', name, { planned_g, actual_g })];
}
