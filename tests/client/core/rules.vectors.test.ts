/** The named formulas, held by the vectors the server reads too (tests/contract/test_rules.py). */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { Data, Line } from '../../../client/src/line';
import { dryShareG, efficiency, mayCorrect, numberOf, roundHalfUp, seen, summary } from '../../../client/src/rules';

function cases<T>(name: string): T[] {
  const url = new URL(`../../../fixtures/rules/${name}.json`, import.meta.url);
  return (JSON.parse(readFileSync(url, 'utf8')) as { cases: T[] }).cases;
}

describe('efficiency', () => {
  interface Case { why: string; fresh: number; dry: number; per_g: number; be: number | null }
  test.each(cases<Case>('efficiency'))('$why', ({ fresh, dry, per_g: perG, be }) => {
    expect(efficiency(fresh, BigInt(dry), perG)).toBe(be);
  });
});

describe('dry mass', () => {
  interface Case { bags: number; fill_g: number; moisture: number; dry: number }
  test.each(cases<Case>('dry_share'))('$bags x $fill_g at $moisture', ({ bags, fill_g: fillG, moisture, dry }) => {
    expect(dryShareG(bags, fillG, moisture)).toBe(BigInt(dry));
  });
});

describe('rounding', () => {
  test.each(cases<{ a: number; b: number; out: number }>('round_half_up'))('$a / $b', ({ a, b, out }) => {
    expect(roundHalfUp(BigInt(a), BigInt(b))).toBe(BigInt(out));
  });
});

describe('numbers of bags', () => {
  test.each(cases<{ first: string; index: number; out: string }>('number_of'))('$first + $index', ({ first, index, out }) => {
    expect(numberOf(first, index)).toBe(out);
  });
});

describe('had seen', () => {
  interface Case { why: string; writer: Line; other: Line; epochs: string[]; out: boolean }
  test.each(cases<Case>('seen'))('$why', ({ writer, other, epochs, out }) => {
    expect(seen(writer, other, epochs)).toBe(out);
  });
});

describe('may correct', () => {
  interface Case { why: string; actor: Line; target: Line; out: boolean }
  test.each(cases<Case>('may_correct'))('$why', ({ actor, target, out }) => {
    expect(mayCorrect(actor, target)).toBe(out);
  });
});

describe('sums of a batch', () => {
  test.each(cases<{ why: string; unit: Data; out: Data }>('summary'))('$why', ({ unit, out }) => {
    expect(summary(unit)).toEqual(out);
  });
});
