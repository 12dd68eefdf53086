/** Warnings where the person stands; the twin of server/bagtrail/trade/cautions.py, with the sources. */
import { plain } from './carbide';
import { finding, type Finding, type Values } from './findings';
import { WHOLE } from './moisture';
import { Ratio } from './ratio';
import { halfUp } from './whole';

/** What a mix is based on; '' asks nothing of its moisture. */
export type Base = 'sawdust' | 'straw' | '';

/** Usual moistures, 0.01 % (trade doubt 4). */
export const USUAL: Record<string, readonly [number, number]> = { sawdust: [5_200, 6_600], straw: [0, 7_800] };
/** Above this a bran's nitrogen is likely its protein (trade doubt 10). */
export const MOST_NITROGEN = 500;
/** Not lifted without thought: the lower of HSE's filter values. */
export const LIFT_G = 16_000;
/** Outside these a bag's fill weight was likely typed in another unit. */
export const FILL_G = [200, 25_000] as const;
const MIX_UP = Ratio.of(8, 100);

/** Which slips change a weight, and by what factor? In the server's order. */
const SLIPS: readonly (readonly [string, Ratio])[] = [
  ['kg_for_g', Ratio.of(1, 1_000)],
  ['g_for_kg', Ratio.of(1_000)],
  ['lb_for_kg', Ratio.of(100_000_000, 45_359_237)],
  ['kg_for_lb', Ratio.of(45_359_237, 100_000_000)],
  ['lb_for_g', Ratio.of(100_000, 45_359_237)],
  ['oz_for_g', Ratio.of(1_600_000, 45_359_237)],
  ['digit_more', Ratio.of(10)],
  ['digit_less', Ratio.of(1, 10)],
];
const LIMES = [
  'hydrated lime', 'slaked lime', 'slack lime', 'pickling lime', 'builders lime', 'builder s lime',
  'quick lime', 'quicklime', 'calcium hydroxide', 'calcium oxide', 'caoh2', 'ca oh 2', 'cao',
];
const WOODS = new Set([
  'sawdust', 'wood', 'shavings', 'oak', 'beech', 'alder', 'poplar', 'aspen', 'maple', 'birch', 'ash',
  'chestnut', 'eucalyptus',
]);

/** Warns of a moisture outside what is usual for a base, or typed as a fraction. */
export function ofMoisture(target: number, base: string): Finding[] {
  if (target > 0 && target <= WHOLE / 100) return [finding('moisture_fraction', 'warn', '', { moisture: target })];
  const usual = Object.hasOwn(USUAL, base) ? USUAL[base] : undefined;
  if (!usual) return [];
  const [low, high] = usual;
  const values = { moisture: target, low, high, base };
  if (target < low) return [finding('moisture_low', 'warn', '', values)];
  return target > high ? [finding('moisture_high', 'warn', '', values)] : [];
}

/** Warns of a nitrogen (0.01 % of dry) that is likely protein; `likely` is it over 6.25. */
export function ofNitrogen(name: string, n: number): Finding[] {
  if (n <= MOST_NITROGEN) return [];
  return [finding('nitrogen_protein', 'warn', name, { n, likely: halfUp(Ratio.of(n * 4, 25)) })];
}

/** Warns of a fill weight that no bag has, with what was likely meant when a factor fits. */
export function ofFill(fillG: number): Finding[] {
  const [low, high] = FILL_G;
  if (fillG >= low && fillG <= high) return [];
  const values: Values = { fill_g: fillG };
  if (fillG * 1_000 >= low && fillG * 1_000 <= high) {
    values['slip'] = 'kg_for_g';
    values['likely'] = fillG * 1_000;
  }
  return [finding('fill_odd', 'warn', '', values)];
}

/** Whether a typed weight misses the planned one by a known mix-up of units. */
export function ofWeight(name: string, plannedG: number, typedG: number): Finding[] {
  if (plannedG <= 0 || typedG <= 0) return [];
  const off = Ratio.of(typedG, plannedG);
  let best: { miss: Ratio; slip: string } | null = null;
  for (const [slip, factor] of SLIPS) {
    const signed = off.over(factor).minus(Ratio.one);
    const miss = signed.compare(0) < 0 ? Ratio.zero.minus(signed) : signed;
    const order = best ? miss.compare(best.miss) : -1;
    if (!best || order < 0 || (order === 0 && slip < best.slip)) best = { miss, slip };
  }
  if (!best || best.miss.compare(MIX_UP) > 0) return [];
  return [finding('units_mixed', 'warn', name, { slip: best.slip, planned_g: plannedG, typed_g: typedG })];
}

/** Notes the cautions that [name, g] to be weighed at once call for, each once. */
export function ofAmounts(amounts: readonly (readonly [name: string, g: number])[]): Finding[] {
  const findings: Finding[] = [];
  const once = (code: string, name: string): void => {
    if (!findings.some((f) => f.code === code)) findings.push(finding(code, 'note', name));
  };
  for (const [name] of amounts) {
    if (isHydratedLime(name)) once('hydrated_lime', name);
    if (isWood(name)) once('hardwood_dust', name);
  }
  const heaviest = Math.max(0, ...amounts.map(([, g]) => g));
  if (heaviest >= LIFT_G) findings.push(finding('lifting', 'note', '', { g: heaviest, from_g: LIFT_G }));
  return findings;
}

/** Notes that a rotating mixer is locked off before reaching in (OSHA 3170-02R, 2007). */
export function ofMixer(rotating: boolean): Finding[] {
  return rotating ? [finding('rotating_mixer', 'note')] : [];
}

/** Whether a name means calcium hydroxide; quicklime counts, as it is worse. */
export function isHydratedLime(name: string): boolean {
  const text = ` ${plain(name)} `;
  return LIMES.some((lime) => text.includes(` ${lime} `));
}

/** Whether a name is one of wood or sawdust. */
export function isWood(name: string): boolean {
  return plain(name).split(' ').some((word) => WOODS.has(word) || word.endsWith('sawdust') || word.endsWith('wood'));
}
