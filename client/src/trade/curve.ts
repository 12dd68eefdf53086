/** Readings as a curve to draw; the twin of server/bagtrail/trade/curve.py, which also thins a logger's million. */
import { lethalRate } from './lethality';
import { at, type Series } from './readings';
import { nearest } from './whole';

/** ms, temperature (0.01 °C) and rate of kill (0.0001) a probe; where `joined[i]` is false no line goes to i + 1. */
export interface Curve {
  ms: number[];
  temp: (number | null)[][];
  rate: (number | null)[][];
  joined: boolean[];
}

/** At most about `points` rows: ends of gaps, and each stretch's highest and lowest. */
export function curve(series: Series, refC: number, zC: number, points = 800): Curve {
  const rows = chosen(series, points);
  const holes = [0];
  for (const solid of series.solid) holes.push((holes[holes.length - 1] ?? 0) + (solid ? 0 : 1));
  const column = (probe: number, of: (x: number) => number): (number | null)[] =>
    rows.map((row) => at(series.temps, row, probe)).map((x) => (Number.isNaN(x) ? null : nearest(of(x))));
  return {
    ms: rows.map((row) => series.ms[row] ?? 0),
    temp: series.probes.map((_, probe) => column(probe, (x) => x * 100)),
    rate: series.probes.map((_, probe) => column(probe, (x) => lethalRate(x, refC, zC) * 10_000)),
    joined: rows.slice(1).map((row, i) => holes[row] === holes[rows[i] ?? 0]),
  };
}

function chosen(series: Series, points: number): number[] {
  const n = series.ms.length;
  if (n <= points) return series.ms.map((_, i) => i);
  const keep = new Set([0, n - 1]);
  series.solid.flatMap((solid, i) => (solid ? [] : [i])).slice(0, Math.floor(points / 4)).forEach((i) => keep.add(i).add(i + 1));
  const probes = series.probes.length;
  const pieces = Math.max(2, Math.floor(points / (2 * probes)));
  for (let piece = 0; piece < pieces; piece += 1) {
    const [a, b] = [Math.floor(n * piece / pieces), Math.floor(n * (piece + 1) / pieces)];
    for (let probe = 0; probe < probes; probe += 1) {
      let low = -1;
      let high = -1;
      for (let i = a; i < b; i += 1) {
        const x = at(series.temps, i, probe);
        if (Number.isNaN(x)) continue;
        if (low < 0 || x < at(series.temps, low, probe)) low = i;
        if (high < 0 || x > at(series.temps, high, probe)) high = i;
      }
      if (low >= 0) keep.add(low).add(high);
    }
  }
  return [...keep].sort((a, b) => a - b);
}
