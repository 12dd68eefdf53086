/**
 * A row of temperature readings made fit for sums; the twin of server/bagtrail/trade/readings.py, where the
 * rules and their reasons stand. Nothing is ever bridged unless its number is in `accept`: a person said so.
 */
import { Unfit, finding, type Finding, type Level, type Values } from './findings';

/** Which readings can a probe in a steriliser show, °C? */
export const LOWEST_C = -40;
export const HIGHEST_C = 200;
/** How much longer than usual may an interval be? */
export const GAP = 1.5;
/** How many single faults are listed one by one? */
export const LISTED = 50;
/** With how many jumps back are times no row any more? */
export const MOST_JUMPS = 1_000;

/** Readings in the order of time; `temps` one row a time, one column a probe, °C; NaN is a missing reading. */
export interface Series {
  ms: number[];
  temps: number[][];
  probes: string[];
  /** From 0; rows of one run follow each other. */
  run: number[];
  /** Whether a straight line may be drawn from each row to the next. */
  solid: boolean[];
  usual_ms: number;
  findings: Finding[];
}

/** Options of `tidy`: a person's table has no gaps, `longest_ms` is the longest interval that is none. */
export interface Tidying {
  by_hand?: boolean;
  longest_ms?: number | null;
  accept?: readonly number[];
}

/** Rows on their way: times, readings and the run each belongs to. */
interface Rows {
  at: number[];
  values: number[][];
  run: number[];
}

/** Puts readings in order and names what is wrong with them. */
export function tidy(ms: readonly number[], temps: readonly (readonly number[])[], probes: readonly string[], options: Tidying = {}): Series {
  if (!probes.length) throw new Unfit('no_temperature');
  if (ms.length < 2) throw new Unfit('one_row', { rows: ms.length });
  const findings: Finding[] = [];
  let rows = runs(forward([...ms], temps.map((row) => [...row]), findings), findings);
  rows = repeats(doubles(rows, findings), findings);
  const { at, values, run } = rows;
  if (at.length < 2) throw new Unfit('one_row', { rows: at.length });
  checkReadings(values, probes, findings);
  const step = steps(at);
  const same = step.map((_, i) => run[i] === run[i + 1]);
  const usual = Math.trunc(median(step.filter((_, i) => same[i])));
  let solid = same;
  if (!options.by_hand) {
    const limit = options.longest_ms ?? Math.trunc(GAP * usual);
    solid = gaps(at, same.map((s, i) => s && (step[i] ?? 0) > limit), same, new Set(options.accept), findings);
  }
  return { ms: at, temps: values, probes: [...probes], run, solid, usual_ms: usual, findings };
}

/** Draws lines over missing readings inside runs, where a person accepted it; says how many. */
export function fillMissing(series: Series): Series {
  const temps = series.temps.map((row) => [...row]);
  let filled = 0;
  for (let probe = 0; probe < series.probes.length; probe += 1) {
    let last = -1;
    for (let i = 0; i < temps.length; i += 1) {
      if (i > 0 && series.run[i] !== series.run[i - 1]) last = -1;
      const here = at(temps, i, probe);
      if (Number.isNaN(here)) continue;
      for (let j = last + 1; last >= 0 && j < i; j += 1) {
        const [a, b, x] = [num(series.ms, last), num(series.ms, i), num(series.ms, j)];
        const before = at(temps, last, probe);
        (temps[j] as number[])[probe] = (here - before) / (b - a) * (x - a) + before;
        filled += 1;
      }
      last = i;
    }
  }
  return { ...series, temps, findings: [...series.findings, finding('reading_filled', 'note', '', { readings: filled })] };
}

/** A reading; NaN where there is none. */
export function at(temps: readonly (readonly number[])[], row: number, probe: number): number {
  return temps[row]?.[probe] ?? Number.NaN;
}

function num(values: readonly number[], i: number): number {
  return values[i] ?? Number.NaN;
}

function steps(times: readonly number[]): number[] {
  return times.slice(1).map((t, i) => t - num(times, i));
}

function median(values: readonly number[]): number {
  if (!values.length) return 0;
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? num(sorted, half) : (num(sorted, half - 1) + num(sorted, half)) / 2;
}

/** Turns a table round that is written newest first. */
function forward(times: number[], values: number[][], findings: Finding[]): { at: number[]; values: number[][] } {
  const step = steps(times);
  const back = step.filter((s) => s < 0).length;
  if (num(times, times.length - 1) < num(times, 0) && back > step.filter((s) => s > 0).length) {
    findings.push(finding('newest_first', 'note'));
    return { at: times.reverse(), values: values.reverse() };
  }
  return { at: times, values };
}

/** Cuts where the clock goes back; a single row that strays from its neighbours is left out. */
function runs({ at: times, values }: { at: number[]; values: number[][] }, findings: Finding[]): Rows {
  const n = times.length;
  const back = steps(times).flatMap((s, i) => (s < 0 ? [i + 1] : []));
  if (back.length > MOST_JUMPS || back.length * 4 > n + 4) throw new Unfit('times_shuffled', { jumps: back.length });
  const keep = times.map(() => true);
  const cuts: number[] = [];
  for (const i of back) {
    if (!keep[i - 1]) continue;
    let stray: number;
    if (i + 1 < n && num(times, i + 1) > num(times, i - 1)) stray = i;
    else if (i >= 2 && keep[i - 2] && num(times, i - 2) < num(times, i)) stray = i - 1;
    else {
      cuts.push(i);
      continue;
    }
    keep[stray] = false;
    list(findings, 'time_stray', 'warn', { row: stray + 1, ms: num(times, stray) });
  }
  const run = times.map((_, i) => cuts.filter((c) => c <= i).length);
  cuts.forEach((i, number) => {
    const restarted = Math.abs(num(times, i) - num(times, 0)) <= 60_000;
    list(findings, restarted ? 'clock_restarted' : 'clock_back', 'warn', { row: i + 1, by_ms: num(times, i - 1) - num(times, i), run: number + 1 });
  });
  return kept({ at: times, values, run }, keep);
}

/** One row a time: where readings differ the lowest of each probe stays, as it kills least. */
function doubles({ at: times, values, run }: Rows, findings: Finding[]): Rows {
  const same = times.map((t, i) => i > 0 && t === times[i - 1] && run[i] === run[i - 1]);
  if (!same.includes(true)) return { at: times, values, run };
  const lowest = values.map((row) => [...row]);
  const differ = new Set<number>();
  let first = 0;
  for (let i = 0; i < times.length; i += 1) {
    if (!same[i]) first = i;
    else {
      (values[i] ?? []).forEach((x, probe) => {
        const low = at(lowest, first, probe);
        if (Number.isNaN(x) || x === low) return;
        if (!Number.isNaN(low)) differ.add(first);
        if (Number.isNaN(low) || x < low) (lowest[first] as number[])[probe] = x;
      });
    }
  }
  const leftOut = same.filter(Boolean).length;
  const [conflict] = differ;
  if (conflict !== undefined) {
    findings.push(finding('time_conflict', 'warn', '', { times: differ.size, rows: leftOut, row: conflict + 1 }));
  } else {
    findings.push(finding('time_double', 'warn', '', { rows: leftOut, row: same.indexOf(true) + 1 }));
  }
  return kept({ at: times, values: lowest, run }, same.map((s) => !s));
}

/** Leaves out a run whose every row stands in an earlier one: a log pasted twice. */
function repeats(rows: Rows, findings: Finding[]): Rows {
  const { at: times, values, run } = rows;
  const keep = times.map(() => true);
  const most = num(run, run.length - 1);
  const of = Array.from({ length: most + 1 }, (_, number) => run.flatMap((r, i) => (r === number ? [i] : [])));
  const known = of.map((mine) => new Map(mine.map((i) => [num(times, i), i])));
  for (let number = 1; number <= most; number += 1) {
    const mine = of[number] ?? [];
    for (let earlier = 0; earlier < number; earlier += 1) {
      if (!(of[earlier] ?? []).some((i) => keep[i])) continue;
      const twice = mine.every((i) => {
        const there = known[earlier]?.get(num(times, i));
        return there !== undefined && (values[i] ?? []).every((x, probe) => Object.is(x, at(values, there, probe)) || x === at(values, there, probe));
      });
      if (!twice) continue;
      for (const i of mine) keep[i] = false;
      list(findings, 'rows_repeated', 'warn', { rows: mine.length, run: number });
      break;
    }
  }
  if (!keep.includes(false)) return rows;
  const rest = kept(rows, keep);
  const numbers = [...new Set(rest.run)];
  return { ...rest, run: rest.run.map((r) => numbers.indexOf(r)) };
}

/** Makes impossible readings missing, in place, and counts what is missing of each probe. */
function checkReadings(values: number[][], probes: readonly string[], findings: Finding[]): void {
  const wrong = (x: number): boolean => x < LOWEST_C || x > HIGHEST_C;
  probes.forEach((name, probe) => {
    const off = values.flatMap((_, i) => (wrong(at(values, i, probe)) ? [i] : []));
    if (off.length) findings.push(finding('reading_range', 'warn', name, { readings: off.length, row: (off[0] ?? 0) + 1 }));
    for (const i of off) (values[i] as number[])[probe] = Number.NaN;
  });
  probes.forEach((name, probe) => {
    const missing = values.filter((_, i) => Number.isNaN(at(values, i, probe))).length;
    if (missing) findings.push(finding('reading_missing', 'warn', name, { readings: missing, of: values.length }));
  });
}

/** Names the gaps; true where a line may be drawn. */
function gaps(times: readonly number[], late: readonly boolean[], same: readonly boolean[], accept: ReadonlySet<number>, findings: Finding[]): boolean[] {
  const step = steps(times);
  const solid = [...same];
  let number = 0;
  let total = 0;
  late.forEach((gap, i) => {
    if (!gap) return;
    number += 1;
    total += num(step, i);
    const taken = accept.has(number);
    solid[i] = taken;
    if (number <= LISTED || taken) {
      findings.push(finding('gap', taken ? 'note' : 'warn', '', { gap: number, from_ms: num(times, i), ms: num(step, i), bridged: taken ? 1 : 0 }));
    }
  });
  if (number) findings.push(finding('gaps', 'warn', '', { gaps: number, ms: total }));
  return solid;
}

function kept({ at: times, values, run }: Rows, keep: readonly boolean[]): Rows {
  return { at: times.filter((_, i) => keep[i]), values: values.filter((_, i) => keep[i]), run: run.filter((_, i) => keep[i]) };
}

function list(findings: Finding[], code: string, level: Level, values: Values): void {
  if (findings.filter((f) => f.code === code).length < LISTED) findings.push(finding(code, level, '', values));
}
