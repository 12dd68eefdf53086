/** What a recipe's dry mass means in grams of the lots in store; the twin of server/bagtrail/trade/stock.py. */
import { dryMass, wetMass } from './moisture';
import { Ratio } from './ratio';

/** A lot in store: what is left of it, its own moisture (0.01 %), `price_minor` a `price_g`. */
export interface Lot {
  code: string;
  mass_g: number;
  moisture: number;
  price_minor?: number | null;
  price_g?: number;
}

/** One ingredient and what there is of it; `lots` null or left out when its store is not kept. */
export interface Ingredient {
  name: string;
  amount: number;
  wood?: boolean;
  moisture?: number;
  lots?: readonly Lot[] | null;
  price_minor?: number | null;
  price_g?: number;
  bulk_g_l?: number | null;
  swell?: number;
}

/** Exact grams of one lot; `lot` '' is what stands in none, `short` what must be bought. */
export interface Draw {
  ingredient: Ingredient;
  lot: string;
  g: Ratio;
  moisture: number;
  short: boolean;
  price_minor: number | null;
  price_g: number;
}

/** What to weigh of an ingredient's lots for so many oven-dry grams, in their order. */
export function draw(ingredient: Ingredient, wanted: Ratio): Draw[] {
  const draws: Draw[] = [];
  let dry = wanted;
  for (const lot of ingredient.lots ?? []) {
    if (dry.compare(0) <= 0) break;
    const held = dryMass(lot.mass_g, lot.moisture);
    if (held.isZero) continue;
    const all = held.compare(dry) <= 0;
    draws.push({
      ingredient, lot: lot.code, g: all ? Ratio.of(lot.mass_g) : wetMass(dry, lot.moisture),
      moisture: lot.moisture, short: false, price_minor: lot.price_minor ?? null, price_g: lot.price_g ?? 1_000,
    });
    dry = dry.minus(all ? held : dry);
  }
  if (dry.compare(0) > 0) {
    const moisture = ingredient.moisture ?? 0;
    draws.push({
      ingredient, lot: '', g: wetMass(dry, moisture), moisture, short: ingredient.lots != null,
      price_minor: ingredient.price_minor ?? null, price_g: ingredient.price_g ?? 1_000,
    });
  }
  return draws;
}

/** Oven-dry grams of all lots; null when the store is not kept. */
export function dryInStore(ingredient: Ingredient): Ratio | null {
  if (ingredient.lots == null) return null;
  return Ratio.sum(ingredient.lots.map((lot) => dryMass(lot.mass_g, lot.moisture)));
}

/** How the grams and litres to weigh grow with the dry mass of a mix: straight lines from lot to lot. */
export class Needs {
  constructor(readonly ingredients: readonly Ingredient[], readonly shares: readonly Ratio[]) {}

  /** Ingredients with a share, and that share. */
  used(): { ingredient: Ingredient; share: Ratio }[] {
    return this.ingredients
      .map((ingredient, i) => ({ ingredient, share: this.shares[i] ?? Ratio.zero }))
      .filter(({ share }) => !share.isZero);
  }

  draws(dry: Ratio): Draw[] {
    return this.used().flatMap(({ ingredient, share }) => draw(ingredient, dry.times(share)));
  }

  weighed(dry: Ratio): Ratio {
    return Ratio.sum(this.draws(dry).map((d) => d.g));
  }

  /** Names the ingredients whose bulk density is not known. */
  unmeasured(): string[] {
    return this.used().filter(({ ingredient }) => ingredient.bulk_g_l == null).map(({ ingredient }) => ingredient.name);
  }

  /** Millilitres the swollen ingredients fill; null without all densities. Water goes into the pores. */
  volume(dry: Ratio): Ratio | null {
    if (this.draws(dry).some((d) => d.ingredient.bulk_g_l == null)) return null;
    return Ratio.sum(this.draws(dry).map((d) =>
      d.g.times(10 * (d.ingredient.swell ?? 100)).over(d.ingredient.bulk_g_l ?? 1)));
  }

  /** The dry mass whose ingredients weigh g. */
  dryForWeighed(g: number): Ratio {
    return invert(this.breaks().map((b) => [b, this.weighed(b)]), Ratio.of(g));
  }

  /** The dry mass whose ingredients fill ml. */
  dryForVolume(ml: number): Ratio {
    return invert(this.breaks().map((b) => [b, this.volume(b) ?? Ratio.zero]), Ratio.of(ml));
  }

  /** Dry masses of the mix at which a lot runs out, from 0, and one beyond the last. */
  private breaks(): Ratio[] {
    const breaks = [Ratio.zero];
    for (const { ingredient, share } of this.used()) {
      let total = Ratio.zero;
      for (const lot of ingredient.lots ?? []) {
        total = total.plus(dryMass(lot.mass_g, lot.moisture));
        breaks.push(total.over(share));
      }
    }
    breaks.sort((a, b) => a.compare(b));
    const distinct = breaks.filter((b, i) => i === 0 || b.compare(breaks[i - 1] ?? Ratio.zero) !== 0);
    return [...distinct, (distinct.at(-1) ?? Ratio.zero).plus(Ratio.one)];
  }
}

/** x of y = goal on a rising line through the knots, straight on beyond the last. */
function invert(knots: readonly (readonly [Ratio, Ratio])[], goal: Ratio): Ratio {
  const last = knots.length - 1;
  const found = knots.findIndex(([, y], i) => i > 0 && i < last && goal.compare(y) <= 0);
  const at = found < 0 ? last : found;
  const [x0, y0] = knots[at - 1] ?? [Ratio.zero, Ratio.zero];
  const [x1, y1] = knots[at] ?? [Ratio.one, Ratio.one];
  return x0.plus(goal.minus(y0).times(x1.minus(x0)).over(y1.minus(y0)));
}
