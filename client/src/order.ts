/**
 * The one order in which records are folded: a string, so that both languages compare alike.
 * Twin of server/bagtrail/order.py.
 */
import type { Line } from './line';

/** The time a record sorts by: what a person said, unless it lies after the clock. */
export function statedTime(onMs: number | null, eff: number): number {
  return onMs !== null && onMs >= 0 && onMs <= eff ? onMs : eff;
}

/**
 * The order key (t, eff, st, sq, id) as one collatable string.
 * Times are ms UTC from 0 to 9,999,999,999,999 (year 2286), so thirteen digits hold them.
 */
export function keyOf(line: Line): string {
  return `${pad(line.t, 13)}.${pad(line.e, 13)}.${line.st}.${pad(line.sq, 10)}.${line.id}`;
}

/** Sorts lines in place by their order key, each key made once. */
export function inOrder(lines: Line[]): Line[] {
  if (lines.length < 2) return lines;
  const keyed = lines.map((line): [string, Line] => [keyOf(line), line]);
  keyed.sort(byKey);
  return keyed.map(([, line]) => line);
}

/** Compares by the first entry, a key: by UTF-16 unit, which for keys (ASCII) is Python's order. */
export function byKey(a: readonly [string, unknown], b: readonly [string, unknown]): number {
  return a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0;
}

function pad(value: number, digits: number): string {
  return String(value).padStart(digits, '0');
}
