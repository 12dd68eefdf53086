/** Lethality F0; the twin of server/bagtrail/trade/lethality.py, where its sources and limits stand. */
import { Unfit, finding, type Finding } from './findings';
import { at, type Series } from './readings';
import { inWords, nearest } from './whole';

/** Which references are in use, °C? 90 min at 121.0 °C are 87.95 or 90.00 of them. */
export const REFERENCES = [121.1, 121] as const;
/** How many kelvin make a tenfold difference? */
export const Z = 10;
/** Below this top temperature a run is an atmospheric steaming, °C. */
export const ATMOSPHERIC_C = 105;

/** One run: minutes a probe, null without two readings that follow each other. */
export interface RunLethality {
  run: number;
  from_ms: number;
  to_ms: number;
  f0: (number | null)[];
  uncounted_ms: number[];
  coldest: number | null;
}

/** F0 with the reference and z that belong to it; `f0` is the coldest probe's in the run that counts. */
export interface Lethality {
  ref_c: number;
  z_c: number;
  f0: number | null;
  coldest: number | null;
  counted: number;
  runs: RunLethality[];
  highest_c: number | null;
  findings: Finding[];
}

/** F0 of every probe and run: exact where the temperature goes straight between readings. */
export function lethality(series: Series, refC: number, zC = Z): Lethality {
  if (!(zC >= 1 && zC <= 100)) throw new Unfit('z_range', { z: inWords(100 * zC) });
  if (!(refC >= 50 && refC <= 200)) throw new Unfit('reference_range', { ref: inWords(100 * refC) });
  const runs: RunLethality[] = [];
  for (let first = 0; first < series.ms.length;) {
    let last = first;
    while (last + 1 < series.ms.length && series.run[last + 1] === series.run[first]) last += 1;
    runs.push(oneRun(series, first, last, refC, zC));
    first = last + 1;
  }
  const worth = (r: RunLethality): number => (r.coldest === null ? -1 : r.f0[r.coldest] ?? 0);
  const counted = runs.reduce((best, r) => (worth(r) > worth(best) ? r : best));
  let highest: number | null = null;
  for (const row of series.temps) for (const x of row) if (!Number.isNaN(x) && (highest === null || x > highest)) highest = x;
  return {
    ref_c: refC,
    z_c: zC,
    f0: counted.coldest === null ? null : counted.f0[counted.coldest] ?? null,
    coldest: counted.coldest,
    counted: counted.run,
    runs,
    highest_c: highest,
    findings: remarks(series, counted, runs.length, highest),
  };
}

/** Minutes at the reference that one minute here is worth. Example: 111.1 °C at reference 121.1 is 0.1. */
export function lethalRate(tempC: number, refC: number, zC = Z): number {
  return 10 ** ((tempC - refC) / zC);
}

/** F0 for a record, in 0.01 min, cut and not rounded: never more than there was. */
export function hundredths(f0: number): number {
  return Math.floor(f0 * 100 + 1e-6);
}

function oneRun(series: Series, first: number, last: number, refC: number, zC: number): RunLethality {
  const f0 = series.probes.map((): number | null => null);
  const lost = series.probes.map(() => 0);
  for (let i = first; i < last; i += 1) {
    const step = (series.ms[i + 1] ?? 0) - (series.ms[i] ?? 0);
    for (let probe = 0; probe < f0.length; probe += 1) {
      const [before, after] = [at(series.temps, i, probe), at(series.temps, i + 1, probe)];
      if (series.solid[i] && !Number.isNaN(before) && !Number.isNaN(after)) {
        f0[probe] = (f0[probe] ?? 0) + interval(before, after, step, refC, zC);
      } else {
        lost[probe] = (lost[probe] ?? 0) + step;
      }
    }
  }
  let coldest: number | null = null;
  f0.forEach((x, i) => {
    if (x !== null && (coldest === null || x < (f0[coldest] ?? 0))) coldest = i;
  });
  return { run: series.run[first] ?? 0, from_ms: series.ms[first] ?? 0, to_ms: series.ms[last] ?? 0, f0, uncounted_ms: lost, coldest };
}

/** Minutes of F0 of one interval: with x = ln 10 (T1 - T0) / z the integral is dt L0 (e^x - 1) / x. */
function interval(before: number, after: number, ms: number, refC: number, zC: number): number {
  const x = (after - before) * (Math.LN10 / zC);
  const mean = Math.abs(x) < 1e-9 ? 1 + x / 2 : Math.expm1(x) / x;
  return lethalRate(before, refC, zC) * mean * (ms / 60_000);
}

function remarks(series: Series, counted: RunLethality, runs: number, highest: number | null): Finding[] {
  const found = [...series.findings];
  if (runs > 1) found.push(finding('runs_not_added', 'warn', '', { runs, run: counted.run }));
  series.probes.forEach((name, i) => {
    if (counted.f0[i] === null) found.push(finding('probe_silent', 'warn', name));
  });
  if (series.probes.length === 1) found.push(finding('one_probe', 'note', series.probes[0]));
  if (highest !== null && highest < ATMOSPHERIC_C) found.push(finding('atmospheric', 'note', '', { highest: nearest(100 * highest) }));
  return found;
}
