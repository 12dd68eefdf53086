/** A plan dealt out over mixer charges, and what their weighing-in comes to: every gram is in exactly one charge. */
import { weighIn, type Weighed } from '../trade/weigh';
import { spread } from '../trade/whole';

export interface PlanLine { name: string; lot?: string; planned_g: number; moisture: number }
/** One charge: grams of each line, and its water. */
export interface Share { g: number[]; water_g: number }
/** What the scale showed in one charge; null where nothing was typed yet. */
export interface Ticks { g: (number | null)[]; water: number | null }

/** The planned grams of each charge; they add up to the plan's. */
export function dealt(lines: readonly PlanLine[], waterG: number, charges: number): Share[] {
  return spread([...lines.map((l) => l.planned_g), waterG], Math.max(1, charges))
    .map((row) => ({ g: row.slice(0, -1), water_g: row.at(-1) ?? 0 }));
}

/** As many figures as there are charges and lines, whatever was kept: the plan may have come after them. */
export function fitted(kept: readonly Ticks[] | null, lines: number, charges: number): Ticks[] {
  return Array.from({ length: charges }, (_, c) => ({
    g: Array.from({ length: lines }, (_x, i) => kept?.[c]?.g[i] ?? null), water: kept?.[c]?.water ?? null,
  }));
}

/** One charge on the scale. Throws Unfit. */
export function ofCharge(lines: readonly PlanLine[], share: Share, ticks: Ticks, target: number, tolerance: number): Weighed {
  return weighIn(lines.map((l, i) => ({ name: l.name, planned_g: share.g[i] ?? 0, moisture: l.moisture, actual_g: ticks.g[i] ?? null })), target, ticks.water, tolerance);
}

/** Whether all of a charge was typed. */
export const isDone = (ticks: Ticks): boolean => ticks.water !== null && ticks.g.every((x) => x !== null);

/** The whole mix that the charges make: actual grams and water added up. Throws Unfit. */
export function ofAll(lines: readonly PlanLine[], ticks: readonly Ticks[], target: number, tolerance: number): { g: number[]; water_g: number; mix: Weighed } {
  const g = lines.map((_, i) => ticks.reduce((sum, t) => sum + (t.g[i] ?? 0), 0));
  const water = ticks.reduce((sum, t) => sum + (t.water ?? 0), 0);
  const mix = weighIn(lines.map((l, i) => ({ name: l.name, planned_g: l.planned_g, moisture: l.moisture, actual_g: g[i] ?? 0 })), target, water, tolerance);
  return { g, water_g: water, mix };
}
