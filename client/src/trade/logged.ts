/** A load's score as the data of a `load.logged` record: whole minutes, the coldest probe's curve in few points. */
import type { Curve } from './curve';
import type { Score } from './score';
import { nearest } from './whole';

/** How many points may the record's curve have? As the catalogue says. */
export const MOST_POINTS = 120;
const NAME = 60;
const MIN_MS = 60_000;

export interface Source {
  by_hand?: boolean;
  file?: string;
  sha256?: string;
}

/** Null where no probe gave two readings that follow each other: there is no F0 to write down. */
export function loggedData(score: Score, source: Source): Record<string, unknown> | null {
  if (score.f0 === null || score.coldest === null) return null;
  const coldest = score.probes[score.coldest];
  const minutes = (ms: number): number => Math.floor(ms / MIN_MS);
  return {
    f0: score.f0, ref: score.ref, z: score.z, limit: score.limit,
    coldest: (coldest?.name ?? '').slice(0, NAME),
    ...(score.highest === null ? {} : { highest: score.highest }),
    ...(score.arrived_ms === null ? {} : { arrived_min: minutes(score.arrived_ms - score.from_ms) }),
    held_min: minutes(score.held_ms),
    uncounted_min: Math.ceil((coldest?.uncounted_ms ?? 0) / MIN_MS),
    readings: score.readings,
    faults: score.findings.filter((f) => f.level === 'warn').length,
    ...(source.by_hand ? { by_hand: true } : {}),
    ...(source.file ? { file: source.file.slice(0, 120) } : {}),
    ...(source.sha256 ? { sha256: source.sha256 } : {}),
    curve: fewer(score.curve, score.coldest, score.from_ms),
  };
}

/** One probe's curve in at most MOST_POINTS rows: its ends, and the lowest and highest of each stretch. */
export function fewer(curve: Curve, probe: number, from: number): { min: number; temp: number }[] {
  const known = (curve.temp[probe] ?? []).flatMap((temp, i) => (temp === null ? [] : [{ min: nearest(((curve.ms[i] ?? from) - from) / MIN_MS), temp }]));
  if (known.length <= MOST_POINTS) return known;
  const keep = new Set([0, known.length - 1]);
  const pieces = MOST_POINTS / 2 - 1;
  for (let piece = 0; piece < pieces; piece += 1) {
    const [a, b] = [Math.floor(known.length * piece / pieces), Math.floor(known.length * (piece + 1) / pieces)];
    let [low, high] = [a, a];
    for (let i = a; i < b; i += 1) {
      if ((known[i]?.temp ?? 0) < (known[low]?.temp ?? 0)) low = i;
      if ((known[i]?.temp ?? 0) > (known[high]?.temp ?? 0)) high = i;
    }
    keep.add(low).add(high);
  }
  return known.filter((_, i) => keep.has(i));
}
