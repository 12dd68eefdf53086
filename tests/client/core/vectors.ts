/** Reads the vectors in fixtures/ (the format is in fixtures/README.md); twin of tests/contract/vectors.py. */
import { readdirSync, readFileSync } from 'node:fs';
import { Farm } from '../../../client/src/fold';
import { lineFrom, type Data, type Line } from '../../../client/src/line';

export const ABSENT = '~absent';

export interface Case {
  name: string;
  why: string;
  epochs?: string[];
  records: Data[];
  state: Record<string, unknown>;
  summary?: Record<string, unknown>;
  history?: Record<string, string[]>;
}

const folder = new URL('../../../fixtures/folds/', import.meta.url);

/** All cases of fixtures/folds with a readable name. */
export function foldCases(): [string, Case][] {
  return readdirSync(folder).filter((name) => name.endsWith('.json')).sort().flatMap((name) => {
    const { cases } = JSON.parse(readFileSync(new URL(name, folder), 'utf8')) as { cases: Case[] };
    return cases.map((one): [string, Case] => [`${name.slice(0, -5)}: ${one.name}`, one]);
  });
}

/** The lines of a case's records, defaults filled in. */
export function linesOf(one: Case): Line[] {
  return one.records.map((record, i) => lineOf(record, i + 1));
}

function lineOf(short: Data, i: number): Line {
  const stream: string = short['st'] ?? 'a000000000000000';
  const pos: number = short['p'] ?? i;
  const record: Data = {
    v: 1,
    id: short['id'] ?? `00000000-0000-7000-8000-${String(i).padStart(12, '0')}`,
    dev: `d${stream}`,
    gen: 1,
    st: stream,
    sq: short['sq'] ?? i,
    at: short['at'],
    ty: short['ty'],
    tv: short['tv'] ?? 1,
    sub: short['sub'] ?? [],
    base: short['base'] ?? `e1.${i - 1}`,
    by: short['by'] ?? 'W00000012',
    d: short['d'] ?? {},
  };
  for (const key of ['on', 'except', 'act', 'rnd']) if (key in short) record[key] = short[key];
  if (!pos) return lineFrom(record, null, 0, short['a'] ?? 'o');
  const receipt = {
    id: record['id'], h: '', e: short['ep'] ?? 'e1', p: pos, t: short['eff'] ?? short['at'], q: 'sync', f: short['f'] ?? '',
    a: short['a'] ?? 'o', dev: record['dev'],
  };
  return lineFrom(record, receipt, short['pos'] ?? pos, '-');
}

/** A farm that took some lines in, one after the other. */
export function farmOf(one: Case, lines: readonly Line[]): Farm {
  const farm = new Farm();
  farm.index.epochs = one.epochs ?? ['e1'];
  for (const line of lines) farm.add(line);
  return farm;
}

const isObject = (value: unknown): value is Data => typeof value === 'object' && value !== null && !Array.isArray(value);

/** Where a state is not what a case says: objects by named keys, the rest exactly. */
export function differences(expected: unknown, actual: unknown, path = ''): string[] {
  if (isObject(expected) && isObject(actual)) {
    return Object.entries(expected).flatMap(([key, value]) => {
      const here = `${path}/${key}`;
      if (value === ABSENT) return key in actual ? [`${here}: is there, ${JSON.stringify(actual[key])}`] : [];
      if (!(key in actual)) return [`${here}: is not there, expected ${JSON.stringify(value)}`];
      return differences(value, actual[key], here);
    });
  }
  return isEqual(expected, actual) ? [] : [`${path}: ${JSON.stringify(actual)}, expected ${JSON.stringify(expected)}`];
}

function isEqual(a: unknown, b: unknown): boolean {
  if (Array.isArray(a) && Array.isArray(b)) return a.length === b.length && a.every((x, i) => isEqual(x, b[i]));
  if (isObject(a) && isObject(b)) {
    return Object.keys(a).length === Object.keys(b).length && Object.keys(a).every((key) => key in b && isEqual(a[key], b[key]));
  }
  return a === b;
}
