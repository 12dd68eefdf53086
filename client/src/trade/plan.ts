/** Plans a mix from any one wish; the twin of server/bagtrail/trade/plan.py, which tells the steps. */
import { refuse } from './carbide';
import { ofAmounts, ofFill, ofMoisture, type Base } from './cautions';
import { Unfit, finding, type Finding } from './findings';
import { WHOLE, dryMass, mixMoisture, wetMass, type Moist } from './moisture';
import { Ratio } from './ratio';
import { dryShares, express, type Basis } from './recipe';
import { Needs, dryInStore, type Ingredient } from './stock';
import { ceiling, halfUp, largestRemainder, spread } from './whole';

/** More than the catalogue lets a batch be (100 t) is a slip of the finger. */
export const MOST_G = 100_000_000;

/** So many bags, grams of mix, all there is of an ingredient, or full mixer fillings. */
export type Wish =
  | { kind: 'bags'; n: number }
  | { kind: 'wet'; g: number }
  | { kind: 'all_of'; name: string }
  | { kind: 'charges'; n: number };

/** What one charge may weigh and, when known, what it may fill. */
export interface Mixer {
  g: number;
  ml?: number | null;
}

export interface PlanOptions {
  fill_g?: number | null;
  loss_g?: number;
  mixer?: Mixer | null;
  bag_minor?: number;
  base?: Base;
}

export interface Line {
  name: string;
  lot: string;
  g: number;
  moisture: number;
  short: boolean;
  cost_minor: number | null;
}

export interface Charge {
  g: number[];
  water_g: number;
  total_g: number;
}

/** What to weigh: lines and water add up to `total_g`, the charges' columns to the lines. */
export interface Plan {
  lines: Line[];
  water_g: number;
  total_g: number;
  dry_g: number;
  moisture: number;
  shares: number[];
  charges: Charge[];
  volume_ml: number | null;
  bags: number | null;
  left_g: number | null;
  cost_minor: number;
  bag_cost_minor: number | null;
  kg_cost_minor: number;
  unpriced: string[];
  short: [name: string, g: number][];
  store_g: number | null;
  store_bags: number | null;
  findings: Finding[];
}

/** What to weigh and the water to add. Throws Unfit; the codes are the server's. */
export function plan(
  ingredients: readonly Ingredient[], basis: Basis, target: number, wish: Wish, options: PlanOptions = {},
): Plan {
  const { fill_g: fillG = null, loss_g: lossG = 0, mixer = null, bag_minor: bagMinor = 0, base = '' } = options;
  check(ingredients, wish, fillG, lossG, mixer);
  const needs = new Needs(ingredients, dryShares(basis, ingredients));
  const { dry, total } = size(needs, target, wish, fillG, lossG, mixer);
  if (total > MOST_G) throw new Unfit('too_much', { g: total, most: MOST_G });

  const draws = needs.draws(dry);
  const rest = wetMass(dry, target).minus(Ratio.sum(draws.map((d) => d.g)));
  const water = rest.compare(0) > 0 ? rest : Ratio.zero;
  const whole = largestRemainder([...draws.map((d) => d.g), water], total);
  const waterG = whole.at(-1) ?? 0;
  const grams = whole.slice(0, -1);
  const lines = draws.map((d, i): Line => ({
    name: d.ingredient.name, lot: d.lot, g: grams[i] ?? 0, moisture: d.moisture, short: d.short,
    cost_minor: d.price_minor === null ? null : halfUp(cost(grams[i] ?? 0, d.price_minor, d.price_g)),
  }));

  const volume = needs.volume(dry);
  const ways = waysOf(total, volume, mixer, wish);
  const charges = spread(whole, ways).map((row): Charge => ({
    g: row.slice(0, -1), water_g: row.at(-1) ?? 0, total_g: row.reduce((a, b) => a + b, 0),
  }));

  const aBag = (fillG ?? 0) + lossG;
  const bags = fillG === null ? null : Math.floor(total / aBag);
  const costs = Ratio.sum(draws.map((d, i) =>
    d.price_minor === null ? Ratio.zero : cost(grams[i] ?? 0, d.price_minor, d.price_g)))
    .plus(Ratio.of(bagMinor).times(bags ?? 0));
  const storeG = store(needs, target);
  const reached = mixMoisture([...lines.map((line): Moist => [line.g, line.moisture]), [waterG, WHOLE]]);
  const most = (i: number): number => Math.max(...charges.map((charge) => charge.g[i] ?? 0));
  const findings = [
    ...ofMoisture(target, base), ...(fillG === null ? [] : ofFill(fillG)),
    ...ofAmounts(lines.map((line, i) => [line.name, most(i)] as const)),
  ];
  if (rest.compare(0) < 0) findings.push(finding('too_wet', 'warn', '', { target, reached }));
  if (mixer?.ml != null && volume === null) {
    findings.push(...needs.unmeasured().map((name) => finding('no_bulk_density', 'note', name)));
  }
  return {
    lines,
    water_g: waterG,
    total_g: total,
    dry_g: halfUp(Ratio.sum(lines.map((line) => dryMass(line.g, line.moisture)))),
    moisture: reached,
    shares: express('of_total_dry', needs.shares, ingredients),
    charges,
    volume_ml: volume && halfUp(volume.over(ways)),
    bags,
    left_g: bags === null ? null : total - bags * aBag,
    cost_minor: halfUp(costs),
    bag_cost_minor: bags ? halfUp(costs.over(bags)) : null,
    kg_cost_minor: halfUp(costs.times(1_000).over(total)),
    unpriced: [...new Set(lines.filter((line) => line.cost_minor === null).map((line) => line.name))],
    short: lines.filter((line) => line.short).map((line) => [line.name, line.g]),
    store_g: storeG,
    store_bags: storeG === null || fillG === null ? null : Math.floor(storeG / aBag),
    findings,
  };
}

function check(
  ingredients: readonly Ingredient[], wish: Wish, fillG: number | null, lossG: number, mixer: Mixer | null,
): void {
  for (const i of ingredients) {
    const { name } = i;
    if (refuse(name)) throw new Unfit('carbide', { name });
    if (ingredients.filter((other) => other.name === name).length > 1) throw new Unfit('ingredient_twice', { name });
    if ((i.bulk_g_l != null && i.bulk_g_l < 1) || (i.swell ?? 100) < 1) throw new Unfit('bulk_range', { name });
    if ((i.price_g ?? 1) < 1 || i.lots?.some((lot) => (lot.price_g ?? 1) < 1)) throw new Unfit('price_range', { name });
    if (i.lots?.some((lot) => lot.mass_g < 0)) throw new Unfit('amount_range', { name });
  }
  if (fillG !== null && fillG < 1) throw new Unfit('wish_range', { fill_g: fillG });
  if (lossG < 0) throw new Unfit('wish_range', { loss_g: lossG });
  if (mixer && (mixer.g < 1 || (mixer.ml != null && mixer.ml < 1))) throw new Unfit('mixer_range');
  if (wish.kind === 'bags' && fillG === null) throw new Unfit('fill_missing');
  if (wish.kind === 'charges' && !mixer) throw new Unfit('mixer_missing');
  const wanted = wish.kind === 'all_of' ? 1 : wish.kind === 'wet' ? wish.g : wish.n;
  if (wanted < 1) throw new Unfit('wish_range', { size: wanted });
}

function size(
  needs: Needs, target: number, wish: Wish, fillG: number | null, lossG: number, mixer: Mixer | null,
): { dry: Ratio; total: number } {
  if (wish.kind === 'all_of') {
    const dry = dryOfAll(needs, wish.name);
    return { dry, total: halfUp(totalOf(needs, target, dry)) };
  }
  let total: number;
  if (wish.kind === 'bags') total = wish.n * ((fillG ?? 0) + lossG);
  else if (wish.kind === 'wet') total = wish.g;
  else {
    total = wish.n * (mixer?.g ?? 0);
    if (mixer?.ml != null && !needs.unmeasured().length) {
      const fits = needs.dryForVolume(wish.n * mixer.ml);
      total = Math.min(total, wish.n * Number(totalOf(needs, target, fits).over(wish.n).floor()));
      if (total < 1) throw new Unfit('mixer_range');
    }
  }
  const dry = dryMass(total, target);
  return { dry: needs.weighed(dry).compare(total) > 0 ? needs.dryForWeighed(total) : dry, total };
}

/** What a dry mass makes at the target moisture, or without any water when that is more. */
function totalOf(needs: Needs, target: number, dry: Ratio): Ratio {
  const [wet, weighed] = [wetMass(dry, target), needs.weighed(dry)];
  return wet.compare(weighed) >= 0 ? wet : weighed;
}

function dryOfAll(needs: Needs, name: string): Ratio {
  const found = needs.used().find(({ ingredient }) => ingredient.name === name);
  if (!found) throw new Unfit('ingredient_unknown', { name });
  const held = dryInStore(found.ingredient);
  if (!held || held.isZero) throw new Unfit('none_in_store', { name });
  return held.over(found.share);
}

function waysOf(total: number, volume: Ratio | null, mixer: Mixer | null, wish: Wish): number {
  if (!mixer) return 1;
  if (wish.kind === 'charges') return wish.n;
  const ways = Math.ceil(total / mixer.g);
  return mixer.ml != null && volume ? Math.max(ways, ceiling(volume.over(mixer.ml))) : ways;
}

/** How many grams of mix the store allows before any ingredient runs out. */
function store(needs: Needs, target: number): number | null {
  let least: Ratio | null = null;
  for (const { ingredient, share } of needs.used()) {
    const limit = dryInStore(ingredient)?.over(share);
    if (limit && (!least || limit.compare(least) < 0)) least = limit;
  }
  return least && Number(totalOf(needs, target, least).floor());
}

function cost(g: number, priceMinor: number, priceG: number): Ratio {
  return Ratio.of(BigInt(g) * BigInt(priceMinor), priceG);
}
