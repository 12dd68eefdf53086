/** Recipes and what their numbers are shares of; the twin of server/bagtrail/trade/recipe.py. */
import { Unfit, finding, type Finding, type Values } from './findings';
import { WHOLE, dryMass, wetMass } from './moisture';
import { Ratio } from './ratio';
import { halfUp, largestRemainder } from './whole';

export const BASES = ['of_total_dry', 'per_wood_dry', 'of_total_weighed', 'per_wood_weighed'] as const;
export type Basis = (typeof BASES)[number];

/** How far may typed percentages be off their sum by rounding alone? 0.02 an ingredient, in 0.01 %. */
export const ROUNDING = 2;

/** An ingredient: its amount in the recipe's basis; the weighed bases read `moisture`. */
export interface Part {
  name: string;
  amount: number;
  wood?: boolean;
  moisture?: number;
}

/** Each ingredient's exact share of the total dry mass; they add up to 1. */
export function dryShares(basis: Basis, parts: readonly Part[]): Ratio[] {
  check(basis, parts);
  const dry = parts.map((p) => dryMass(p.amount, basis.includes('weighed') ? (p.moisture ?? 0) : 0));
  const total = Ratio.sum(dry);
  return dry.map((d) => d.over(total));
}

/** Exact dry shares said in a basis, in 0.01 %; what makes up the 100 adds up to 10,000. */
export function express(basis: Basis, shares: readonly Ratio[], parts: readonly Part[]): number[] {
  if (!BASES.includes(basis)) throw new Unfit('basis_unknown', { basis });
  const masses = shares.map((s, i) => (basis.includes('weighed') ? wetMass(s, parts[i]?.moisture ?? 0) : s));
  const whole = parts.map((p) => Boolean(p.wood) || basis.startsWith('of_total'));
  const total = Ratio.sum(masses.filter((_, i) => whole[i]));
  if (total.isZero) throw new Unfit('no_wood');
  const scaled = masses.map((m) => m.over(total).times(WHOLE));
  const rounded = largestRemainder(scaled.filter((_, i) => whole[i]), WHOLE);
  return scaled.map((x, i) => (whole[i] ? (rounded.shift() ?? 0) : halfUp(x)));
}

/** A recipe in every basis it can be said in, in 0.01 %; the per-wood ones need wood. */
export function everyBasis(basis: Basis, parts: readonly Part[]): Partial<Record<Basis, number[]>> {
  const shares = dryShares(basis, parts);
  const woody = hasWood(parts);
  const able = BASES.filter((name) => woody || !name.startsWith('per_wood'));
  return Object.fromEntries(able.map((name) => [name, express(name, shares, parts)]));
}

/** Whether percentages add up: all of them, or the wood's when they are per 100 of wood. */
export function checkSum(basis: Basis, parts: readonly Part[], whole = WHOLE): Finding[] {
  check(basis, parts);
  const add = (some: readonly Part[]): number => some.reduce((sum, p) => sum + p.amount, 0);
  const wood = add(parts.filter((p) => p.wood));
  const total = basis.startsWith('per_wood') ? wood : add(parts);
  const off = Math.abs(total - whole);
  if (off === 0) return [];
  const values: Values = { sum: total, whole };
  if (off * WHOLE <= ROUNDING * parts.length * whole) return [finding('shares_rounded', 'note', '', values)];
  if (wood === whole && basis.startsWith('of_total')) values['likely'] = 'per_wood';
  return [finding('shares_sum', 'refuse', '', values)];
}

function hasWood(parts: readonly Part[]): boolean {
  return parts.some((p) => p.wood && p.amount);
}

function check(basis: Basis, parts: readonly Part[]): void {
  if (!BASES.includes(basis)) throw new Unfit('basis_unknown', { basis });
  for (const p of parts) if (p.amount < 0) throw new Unfit('amount_range', { name: p.name, amount: p.amount });
  if (!parts.some((p) => p.amount)) throw new Unfit('no_ingredient');
  if (basis.startsWith('per_wood') && !hasWood(parts)) throw new Unfit('no_wood');
}
