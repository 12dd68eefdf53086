/** After mixing: water or dry mix to add; the twin of server/bagtrail/trade/correct.py. */
import { Unfit } from './findings';
import { WHOLE, dryMass, massAt, mixMoisture, type Moist } from './moisture';
import { Ratio } from './ratio';
import { halfUp, largestRemainder } from './whole';

export type Kind = 'water' | 'dry_mix' | 'none';
export type Squeeze = 'no_drop' | 'drop_or_two' | 'runs';

/** What a hard squeeze says; a drop or two is field capacity. */
export const SQUEEZES: Record<string, Kind> = { no_drop: 'water', drop_or_two: 'none', runs: 'dry_mix' };
/** How much water one step after a squeeze adds, 0.01 % of the mix. */
export const STEP = 100;

/** What to add: `parts` of the dry mix make `g`; `exact` is false when only a squeeze was felt. */
export interface Correction {
  kind: Kind;
  g: number;
  parts: number[];
  total_g: number;
  moisture: number | null;
  exact: boolean;
}

/** [dry share or amount, moisture of the lot at hand] of one ingredient. */
export type Share = readonly [share: Ratio | number, moisture: number];

/** What brings a mix from its measured moisture to the target. */
export function correct(mixG: number, measured: number, target: number, recipe: readonly Share[]): Correction {
  const none = recipe.map(() => 0);
  const as = (kind: Kind, g: number, parts: number[], moisture: number): Correction =>
    ({ kind: g ? kind : 'none', g, parts, total_g: mixG + g, moisture, exact: true });
  if (measured === target) return as('none', 0, none, measured);
  if (measured < target) {
    const g = halfUp(massAt(mixG, measured, target)) - mixG;
    return as('water', g, none, mixMoisture([[mixG, measured], [g, WHOLE]]));
  }
  const asWeighed = recipe.map(([share, at]) =>
    (share instanceof Ratio ? share : Ratio.of(share)).over(dryMass(1, at)));
  const weighed = Ratio.sum(asWeighed);
  if (weighed.isZero) throw new Unfit('no_ingredient');
  const dry = Ratio.sum(recipe.map(([share]) => (share instanceof Ratio ? share : Ratio.of(share))));
  const own = Ratio.one.minus(dry.over(weighed));
  if (own.times(WHOLE).compare(target) >= 0) {
    throw new Unfit('dry_mix_too_wet', { target, moisture: halfUp(own.times(WHOLE)) });
  }
  // mixG x measured + x x own = (mixG + x) x target
  const g = halfUp(Ratio.of(measured - target, WHOLE).times(mixG).over(Ratio.of(target, WHOLE).minus(own)));
  const parts = largestRemainder(asWeighed.map((w) => w.times(g).over(weighed)), g);
  return as('dry_mix', g, parts,
    mixMoisture([[mixG, measured], ...recipe.map(([, at], i): Moist => [parts[i] ?? 0, at])]));
}

/** A step to try after a squeeze; dry mix has no amount: what runs off a hand says too little. */
export function fromSqueeze(mixG: number, felt: string): Correction {
  const kind = Object.hasOwn(SQUEEZES, felt) ? SQUEEZES[felt] : undefined;
  if (!kind) throw new Unfit('squeeze_unknown', { felt });
  const g = kind === 'water' ? halfUp(Ratio.of(BigInt(mixG) * BigInt(STEP), WHOLE)) : 0;
  return { kind, g, parts: [], total_g: mixG + g, moisture: null, exact: false };
}
