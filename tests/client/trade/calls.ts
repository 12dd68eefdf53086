/** Calls a sum of the trade by name with JSON, and gives its result as JSON; twin of calls.py. */
import { atGeopotential, pressurePa } from '../../../client/src/trade/atmosphere';
import { plain, refuse } from '../../../client/src/trade/carbide';
import { carbonOfAsh, massForRatio, nitrogenOfProtein, ratio } from '../../../client/src/trade/carbon';
import { ofAmounts, ofFill, ofMixer, ofMoisture, ofNitrogen, ofWeight } from '../../../client/src/trade/cautions';
import { correct, fromSqueeze } from '../../../client/src/trade/correct';
import { drying } from '../../../client/src/trade/drying';
import { Unfit } from '../../../client/src/trade/findings';
import { hundredths, lethalRate } from '../../../client/src/trade/lethality';
import {
  afterLoss, dryMass, fromDryBasis, massAt, mixMoisture, ofDry, secondMass, toDryBasis, waterToAdd, wetMass,
} from '../../../client/src/trade/moisture';
import { perBag } from '../../../client/src/trade/perBag';
import { plan } from '../../../client/src/trade/plan';
import { Ratio } from '../../../client/src/trade/ratio';
import { fillMissing, tidy } from '../../../client/src/trade/readings';
import { checkSum, dryShares, everyBasis, express } from '../../../client/src/trade/recipe';
import { score } from '../../../client/src/trade/score';
import { blockMoisture, oneTo, spawnMass, spawnRates, spawnUnits } from '../../../client/src/trade/spawn';
import {
  boilingC, gaugeForPa, pot, saturationPressurePa, saturationTemperatureC, temperatureAtGaugeC, trappedAir,
} from '../../../client/src/trade/steam';
import { number, read, said, whole } from '../../../client/src/trade/units';
import { dryPerBag, weighIn } from '../../../client/src/trade/weigh';
import { ceiling, halfUp, largestRemainder, nearest, spread } from '../../../client/src/trade/whole';

type Call = (...args: any[]) => unknown;

const of = (text: string): Ratio => {
  const [n = '0', d = '1'] = text.split('/');
  return Ratio.of(BigInt(n), BigInt(d));
};

/** Millionths: what floats of two languages are compared by. */
const micro = (x: number): number => nearest(1e6 * x);

export const CALLS: Record<string, Call> = {
  half_up: (x: string) => halfUp(of(x)),
  ceiling: (x: string) => ceiling(of(x)),
  largest_remainder: (xs: string[], total: number) => largestRemainder(xs.map(of), total),
  spread,
  dry_mass: dryMass,
  wet_mass: wetMass,
  mix_moisture: mixMoisture,
  water_to_add: waterToAdd,
  mass_at: massAt,
  second_mass: secondMass,
  from_dry_basis: fromDryBasis,
  to_dry_basis: toDryBasis,
  of_dry: ofDry,
  after_loss: afterLoss,
  drying,
  dry_shares: dryShares,
  express: (basis, shares: string[], rows) => express(basis, shares.map(of), rows),
  every_basis: everyBasis,
  check_sum: checkSum,
  ratio,
  mass_for_ratio: massForRatio,
  nitrogen_of_protein: nitrogenOfProtein,
  carbon_of_ash: carbonOfAsh,
  spawn_mass: spawnMass,
  spawn_rates: spawnRates,
  one_to: oneTo,
  spawn_units: spawnUnits,
  block_moisture: blockMoisture,
  refuse,
  plain,
  of_moisture: ofMoisture,
  of_nitrogen: ofNitrogen,
  of_fill: ofFill,
  of_weight: ofWeight,
  of_amounts: ofAmounts,
  of_mixer: ofMixer,
  plan,
  per_bag: perBag,
  weigh_in: weighIn,
  dry_per_bag: dryPerBag,
  correct: (g, measured, target, rows: [string, number][]) =>
    correct(g, measured, target, rows.map(([share, at]) => [of(share), at] as const)),
  from_squeeze: fromSqueeze,
  whole: (value: string, unit: string) => whole(of(value), unit),
  said,
  number,
  read,
  air_pressure: (mm: number) => nearest(pressurePa(mm / 1_000)),
  geopotential: (mm: number) => nearest(atGeopotential(mm / 1_000)),
  saturation_pressure: (temp: number) => nearest(saturationPressurePa(temp / 100)),
  saturation_temperature: (pa: number) => micro(saturationTemperatureC(pa)),
  boiling: (mm: number) => micro(boilingC(mm / 1_000)),
  gauge_for: (temp: number, mm: number) => nearest(gaugeForPa(temp / 100, mm / 1_000)),
  temperature_at_gauge: (pa: number, mm: number) => micro(temperatureAtGaugeC(pa, mm / 1_000)),
  pot,
  trapped_air: (pa: number, temp: number, mm: number) => trappedAir(pa, temp / 100, mm / 1_000),
  lethal_rate: (temp: number, ref: number, z: number) => micro(lethalRate(temp / 100, ref / 100, z / 100)),
  hundredths,
  /** Readings in 0.01 °C, null missing; `options` has ref, z, limit and those of tidy. */
  score: (ms: number[], temps: (number | null)[][], probes: string[], options) => {
    const rows = temps.map((row) => row.map((x) => (x === null ? Number.NaN : x / 100)));
    const series = tidy(ms, rows, probes, options);
    return score(options.fill ? fillMissing(series) : series, options.ref, options.z, options.limit, options.points ?? 800);
  },
};

/** A result as JSON; fractions are "n/d", Unfit is {error, values}. */
export function call(name: string, args: unknown[]): unknown {
  const sum = CALLS[name];
  if (!sum) throw new Error(`no sum is called ${name}`);
  try {
    return encode(sum(...args));
  } catch (error) {
    if (error instanceof Unfit) return { error: error.code, values: error.values };
    throw error;
  }
}

function encode(value: unknown): unknown {
  if (value instanceof Ratio) return `${value.n}/${value.d}`;
  if (Array.isArray(value)) return value.map(encode);
  if (value !== null && typeof value === 'object') {
    return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, encode(item)]));
  }
  return value;
}
