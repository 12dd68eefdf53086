/** The sums the phone makes offline, held by the vectors that tests/server/trade/test_sums.py reads too. */
import { readFileSync, readdirSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Ratio } from '../../../client/src/trade/ratio';
import { halfUp, largestRemainder } from '../../../client/src/trade/whole';
import { CALLS, call } from './calls';

interface Case {
  why: string;
  call: string;
  args: unknown[];
  out: unknown;
}
const folder = new URL('../../../fixtures/trade/', import.meta.url);
const files = readdirSync(folder).filter((name) => name.startsWith('sums-'))
  .map((name) => ({ name, cases: (JSON.parse(readFileSync(new URL(name, folder), 'utf8')) as { cases: Case[] }).cases }));

describe.each(files)('$name', ({ cases }) => {
  test.each(cases)('$call: $why', ({ call: name, args, out }) => {
    const got = call(name, args);
    if (out !== null && typeof out === 'object') expect(got).toMatchObject(out);
    else expect(got).toEqual(out);
  });
});

test('every sum has a vector', () => {
  const called = new Set(files.flatMap(({ cases }) => cases.map((c) => c.call)));
  expect(Object.keys(CALLS).filter((name) => !called.has(name))).toEqual([]);
});

const ratio = fc.tuple(fc.bigInt(-(10n ** 12n), 10n ** 12n), fc.bigInt(1n, 10n ** 6n)).map(([n, d]) => Ratio.of(n, d));

describe('fractions', () => {
  test('floor is below, by less than one', () => {
    fc.assert(fc.property(ratio, (x) => {
      const rest = x.minus(Ratio.of(x.floor()));
      expect(rest.compare(0)).toBeGreaterThanOrEqual(0);
      expect(rest.compare(1)).toBeLessThan(0);
    }));
  });
  test('sums and products undo each other', () => {
    fc.assert(fc.property(ratio, ratio, (a, b) => {
      expect(a.plus(b).minus(b).compare(a)).toBe(0);
      if (!b.isZero) expect(a.times(b).over(b).compare(a)).toBe(0);
    }));
  });
  test('whole parts make the whole', () => {
    const share = fc.tuple(fc.bigInt(0n, 10n ** 9n), fc.bigInt(1n, 997n)).map(([n, d]) => Ratio.of(n, d));
    fc.assert(fc.property(fc.array(share, { minLength: 1, maxLength: 12 }), (parts) => {
      const total = halfUp(Ratio.sum(parts));
      const whole = largestRemainder(parts, total);
      expect(whole.reduce((a, b) => a + b, 0)).toBe(total);
      whole.forEach((g, i) => {
        const off = Ratio.of(g).minus(parts[i] ?? Ratio.zero);
        expect(off.compare(-1)).toBeGreaterThan(0);
        expect(off.compare(1)).toBeLessThan(0);
      });
    }));
  });
});
