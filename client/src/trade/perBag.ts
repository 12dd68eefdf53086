/** What goes into each bag without a mixer; the twin of server/bagtrail/trade/per_bag.py. */
import type { Base } from './cautions';
import { finding, type Finding } from './findings';
import { plan } from './plan';
import type { Basis } from './recipe';
import type { Ingredient } from './stock';

/** Below this a kitchen scale weighs a mineral badly: mix it into the bran for all bags first. */
export const FINE_G = 10;

/** One bag's amounts, all bags alike; a gram of water taken as a millilitre. */
export interface PerBag {
  g: number[];
  water_ml: number;
  dry_g: number;
  moisture: number;
  all_g: number[];
  short: [name: string, g: number][];
  bags_from_store: number | null;
  findings: Finding[];
}

/** What to weigh into each bag; each ingredient counts at its own moisture. */
export function perBag(
  ingredients: readonly Ingredient[], basis: Basis, target: number, fillG: number, bags = 1, base: Base = '',
): PerBag {
  const alone = ingredients.map((i): Ingredient => ({ ...i, lots: null }));
  const one = plan(alone, basis, target, { kind: 'wet', g: fillG }, { base });
  const byName = new Map(one.lines.map((line) => [line.name, line.g]));
  const rows = ingredients.map((i) => {
    const g = byName.get(i.name) ?? 0;
    const held = i.lots == null ? null : i.lots.reduce((sum, lot) => sum + lot.mass_g, 0);
    return { i, g, all: g * bags, held };
  });
  const enough = rows.flatMap(({ g, held }) => (held !== null && g ? [Math.floor(held / g)] : []));
  const fine = rows.filter(({ i, g }) => i.amount && g < FINE_G)
    .map(({ i, g, all }) => finding('fine_amount', 'note', i.name, { g, all_g: all }));
  return {
    g: rows.map((row) => row.g),
    water_ml: one.water_g,
    dry_g: one.dry_g,
    moisture: one.moisture,
    all_g: rows.map((row) => row.all),
    short: rows.flatMap(({ i, all, held }): [string, number][] =>
      (held !== null && all > held ? [[i.name, all - held]] : [])),
    bags_from_store: enough.length ? Math.min(...enough) : null,
    findings: [...one.findings, ...fine],
  };
}
