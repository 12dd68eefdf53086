/** The one order of records, held by the vectors the server reads too (tests/contract/test_order.py). */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import type { Line } from '../../../client/src/line';
import { inOrder, keyOf, statedTime } from '../../../client/src/order';

function cases<T>(name: string): T[] {
  const url = new URL(`../../../fixtures/order/${name}.json`, import.meta.url);
  return (JSON.parse(readFileSync(url, 'utf8')) as { cases: T[] }).cases;
}

test.each(cases<{ why: string; line: Line; key: string }>('keys'))('key: $why', ({ line, key }) => {
  expect(keyOf(line)).toBe(key);
});

test.each(cases<{ why: string; lines: Line[] }>('sorted'))('sorted: $why', ({ lines }) => {
  expect(inOrder([...lines].reverse())).toEqual(lines);
});

test.each(cases<{ why: string; on: number | null; eff: number; t: number }>('stated'))('stated: $why', ({ on, eff, t }) => {
  expect(statedTime(on, eff)).toBe(t);
});
