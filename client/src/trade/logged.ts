/** A load's score as the data of a `load.logged` record: whole minutes, the coldest probe's curve in few points. */
import type { Curve } from './curve';
import { lethalRate } from './lethality';
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
    // Said even where there is none: field by field the later record wins, and an earlier one may have had it.
    by_hand: source.by_hand === true, file: (source.file ?? '').slice(0, 120), sha256: source.sha256 ?? '',
    curve: fewer(score.curve, score.coldest, score.from_ms),
  };
}

/** A point of a record's curve; after `gap` nothing was read until the next one. */
export interface Point { min: number; temp: number; gap?: boolean }

/** One probe's curve in at most MOST_POINTS rows: its ends, those of its gaps, the lowest and highest of each stretch. */
export function fewer(curve: Curve, probe: number, from: number): Point[] {
  const known = (curve.temp[probe] ?? []).flatMap((temp, i) => (temp === null ? [] : [{ temp, i }]));
  // Not joined: a gap of the log, or a reading of this probe that is missing in between.
  const open = known.map(({ i }, k) => {
    const next = known[k + 1]?.i;
    return next !== undefined && (next > i + 1 || !curve.joined[i]);
  });
  const keep = new Set(known.length <= MOST_POINTS ? known.keys() : [0, known.length - 1]);
  if (known.length > MOST_POINTS) {
    const gaps = open.flatMap((gap, k) => (gap ? [k] : [])).slice(0, MOST_POINTS / 6);
    for (const k of gaps) keep.add(k).add(k + 1);
    const pieces = Math.floor((MOST_POINTS - keep.size) / 2);
    for (let piece = 0; piece < pieces; piece += 1) {
      const [a, b] = [Math.floor(known.length * piece / pieces), Math.floor(known.length * (piece + 1) / pieces)];
      let [low, high] = [a, a];
      for (let k = a; k < b; k += 1) {
        if ((known[k]?.temp ?? 0) < (known[low]?.temp ?? 0)) low = k;
        if ((known[k]?.temp ?? 0) > (known[high]?.temp ?? 0)) high = k;
      }
      keep.add(low).add(high);
    }
  }
  const kept = known.flatMap((point, k) => (keep.has(k) ? [{ ...point, k }] : []));
  return kept.map(({ temp, i, k }, at) => {
    const next = kept[at + 1]?.k ?? k;
    const gap = open.slice(k, next).includes(true);
    return { min: nearest(((curve.ms[i] ?? from) - from) / MIN_MS), temp, ...(gap ? { gap } : {}) };
  });
}

/** A record's figures and curve as a score to draw, its times since the start of the run; null where it has no curve. */
export function drawn(row: Record<string, unknown>): Score | null {
  const points = (Array.isArray(row['curve']) ? row['curve'] : []) as Point[];
  const whole = (name: string): number | null => (typeof row[name] === 'number' ? row[name] : null);
  const [f0, ref, z] = [whole('f0'), whole('ref'), whole('z')];
  if (points.length < 2 || f0 === null || ref === null || z === null) return null;
  const ms = points.map((p) => p.min * MIN_MS);
  const held = (whole('held_min') ?? 0) * MIN_MS;
  const arrived = held > 0 ? (whole('arrived_min') ?? 0) * MIN_MS : null;
  const highest = Math.max(...points.map((p) => p.temp));
  const lost = (whole('uncounted_min') ?? 0) * MIN_MS;
  const name = typeof row['coldest'] === 'string' ? row['coldest'] : '';
  return {
    ref, z, limit: whole('limit') ?? ref, f0, coldest: 0, highest, from_ms: 0, to_ms: ms[ms.length - 1] ?? 0,
    probes: [{ name, f0, uncounted_ms: lost, arrived_ms: arrived, highest }],
    arrived_ms: arrived, held_ms: held, longest_ms: held, total_ms: held, stretches: held > 0 ? 1 : 0,
    readings: whole('readings') ?? points.length, runs: 1, findings: [],
    curve: {
      ms, temp: [points.map((p) => p.temp)], joined: points.slice(0, -1).map((p) => !p.gap),
      rate: [points.map((p) => nearest(lethalRate(p.temp / 100, ref / 100, z / 100) * 10_000))],
    },
  };
}
