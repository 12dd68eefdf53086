/** What a load's readings were worth, in whole numbers; the twin of server/bagtrail/trade/score.py. */
import { curve, type Curve } from './curve';
import type { Finding } from './findings';
import { hold } from './hold';
import { hundredths, lethality } from './lethality';
import { at, type Series } from './readings';
import { nearest } from './whole';

/** One probe in the run that counts: F0 in 0.01 min, cut; highest in 0.01 °C. */
export interface ProbeScore {
  name: string;
  f0: number | null;
  uncounted_ms: number;
  arrived_ms: number | null;
  highest: number | null;
}

/** A load's result; temperatures 0.01 °C, F0 0.01 min, times in ms of the readings' clock. */
export interface Score {
  ref: number;
  z: number;
  limit: number;
  probes: ProbeScore[];
  f0: number | null;
  coldest: number | null;
  highest: number | null;
  from_ms: number;
  to_ms: number;
  arrived_ms: number | null;
  held_ms: number;
  longest_ms: number;
  total_ms: number;
  stretches: number;
  readings: number;
  runs: number;
  curve: Curve;
  findings: Finding[];
}

/** F0, hold and curve of the run that counts; `ref` and `limit` in 0.01 °C, `z` in 0.01 K. */
export function score(series: Series, ref: number, z: number, limit: number, points = 800): Score {
  const worth = lethality(series, ref / 100, z / 100);
  const run = worth.runs[worth.counted];
  if (!run) throw new RangeError('a series without runs');
  const counted = only(series, worth.counted);
  const held = hold(counted, limit / 100);
  const probes = series.probes.map((name, i): ProbeScore => ({
    name,
    f0: run.f0[i] == null ? null : hundredths(run.f0[i]),
    uncounted_ms: run.uncounted_ms[i] ?? 0,
    arrived_ms: held.each_ms[i] ?? null,
    highest: highest(counted, i),
  }));
  const tops = probes.flatMap((p) => (p.highest === null ? [] : [p.highest]));
  return {
    ref, z, limit, probes,
    f0: worth.f0 === null ? null : hundredths(worth.f0),
    coldest: worth.coldest,
    highest: tops.length ? Math.max(...tops) : null,
    from_ms: run.from_ms,
    to_ms: run.to_ms,
    arrived_ms: held.arrived_ms,
    held_ms: held.held_ms,
    longest_ms: held.longest_ms,
    total_ms: held.total_ms,
    stretches: held.stretches,
    readings: series.ms.length,
    runs: worth.runs.length,
    curve: curve(counted, ref / 100, z / 100, points),
    findings: [...worth.findings, ...held.findings],
  };
}

/** One run's rows by themselves. */
export function only(series: Series, run: number): Series {
  const a = series.run.indexOf(run);
  const b = series.run.lastIndexOf(run) + 1;
  return {
    ...series,
    ms: series.ms.slice(a, b),
    temps: series.temps.slice(a, b),
    run: series.run.slice(a, b).map(() => 0),
    solid: series.solid.slice(a, b - 1),
  };
}

function highest(series: Series, probe: number): number | null {
  const known = series.temps.map((_, i) => at(series.temps, i, probe)).filter((x) => !Number.isNaN(x));
  return known.length ? nearest(100 * known.reduce((a, b) => Math.max(a, b))) : null;
}
