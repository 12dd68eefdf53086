/** Every path of a mix keeps its mass: plan, lots, charges, the scale, what is added after; to the gram. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dealt, fitted, isDone, ofAll, ofCharge, type PlanLine, type Ticks } from '../../../client/src/screens/charges';
import { known, lotsOf, rowsOf } from '../../../client/src/screens/mixdata';
import { correct } from '../../../client/src/trade/correct';
import { Unfit } from '../../../client/src/trade/findings';
import { dryMass } from '../../../client/src/trade/moisture';
import { perBag } from '../../../client/src/trade/perBag';
import { plan, type Plan } from '../../../client/src/trade/plan';
import { Ratio } from '../../../client/src/trade/ratio';
import { BASES } from '../../../client/src/trade/recipe';
import type { Ingredient } from '../../../client/src/trade/stock';

const NAMES = ['Oak sawdust', 'Wheat bran', 'Gypsum'];
const moisture = fc.integer({ min: 0, max: 5_000 });
const lot = fc.record({ code: fc.constant('m'), mass_g: fc.integer({ min: 0, max: 200_000 }), moisture });
const mixes = fc.tuple(...NAMES.map((name, i) => fc.record({
  name: fc.constant(name), amount: fc.integer({ min: 1, max: 9_000 }), wood: fc.constant(i === 0), moisture,
  lots: fc.option(fc.array(lot, { maxLength: 3 }), { nil: null }),
}))) as fc.Arbitrary<Ingredient[]>;
const sum = (list: readonly number[]): number => list.reduce((a, b) => a + b, 0);
const linesOf = (p: Plan): PlanLine[] => p.lines.map((l) => ({ name: l.name, planned_g: l.g, moisture: l.moisture }));

const planned = fc.record({
  mix: mixes, basis: fc.constantFrom(...BASES), target: fc.integer({ min: 5_200, max: 7_800 }),
  g: fc.integer({ min: 2_000, max: 900_000 }), mixer: fc.integer({ min: 5_000, max: 300_000 }), fill: fc.integer({ min: 300, max: 5_000 }),
});

describe('a gram is never lost', () => {
  test('from the plan through lots and charges to the scale', () => {
    fc.assert(fc.property(planned, fc.infiniteStream(fc.integer({ min: -300, max: 300 })), ({ mix, basis, target, g, mixer, fill }, off) => {
      const p = plan(mix, basis, target, { kind: 'wet', g }, { mixer: { g: mixer }, fill_g: fill });
      const lines = linesOf(p);
      const shares = dealt(lines, p.water_g, p.charges.length);
      // The charges of the record are those of the plan, and add up to it.
      expect(shares).toEqual(p.charges.map((c) => ({ g: c.g, water_g: c.water_g })));
      expect(sum(shares.map((s) => sum(s.g) + s.water_g))).toBe(p.total_g);
      expect((p.bags ?? 0) * fill + (p.left_g ?? 0)).toBe(p.total_g);
      // Every charge a little off, as scales and hands are.
      const ticks: Ticks[] = shares.map((s) => ({ g: s.g.map((x) => Math.max(0, x + (off.next().value ?? 0))), water: Math.max(0, s.water_g + (off.next().value ?? 0)) }));
      if (ticks.some((t) => t.g.every((x) => !x))) return;
      const all = ofAll(lines, ticks, target, 200);
      const each = ticks.map((t, i) => ofCharge(lines, shares[i] ?? { g: [], water_g: 0 }, t, target, 200));
      expect(all.mix.total_g).toBe(sum(each.map((c) => c.total_g)));
      expect(all.mix.total_g).toBe(sum(all.g) + all.water_g);
      expect(Math.abs(all.mix.dry_g - sum(each.map((c) => c.dry_g)))).toBeLessThanOrEqual(Math.ceil((each.length + 1) / 2));
      // The dry mass is that of what was weighed, and water has none.
      const dry = Ratio.sum(lines.map((l, i) => dryMass(all.g[i] ?? 0, l.moisture)));
      expect(Math.abs(all.mix.dry_g - dry.toNumber())).toBeLessThanOrEqual(0.5);
      expect(sum(all.mix.shares)).toBe(10_000);
    }));
  });

  test('after the mixing: what is added is all that is added', () => {
    fc.assert(fc.property(fc.integer({ min: 1_000, max: 900_000 }), fc.integer({ min: 4_000, max: 8_000 }), fc.integer({ min: 5_200, max: 7_800 }), (g, found, target) => {
      const c = correct(g, found, target, [[80, 800], [20, 1_200]]);
      expect(c.total_g).toBe(g + c.g);
      if (c.kind === 'dry_mix') expect(sum(c.parts)).toBe(c.g);
      if (c.kind === 'water') expect(c.g).toBeGreaterThan(0);
    }));
  });

  test('bag by bag, without a mixer', () => {
    fc.assert(fc.property(planned, ({ mix, basis, target, fill }) => {
      const b = perBag(mix, basis, target, fill, 7);
      expect(sum(b.g) + b.water_ml).toBe(fill);
    }));
  });
});

describe('weighing in by charges', () => {
  const lines: PlanLine[] = [{ name: 'Pellets', planned_g: 18_000, moisture: 800 }, { name: 'Bran', planned_g: 3_000, moisture: 1_200 }];

  test('the worked mix in three charges of 6, 1 and 9 kg', () => {
    expect(dealt(lines, 27_000, 3)).toEqual([1, 2, 3].map(() => ({ g: [6_000, 1_000], water_g: 9_000 })));
    const ticks = dealt(lines, 27_000, 3).map((s) => ({ g: [...s.g], water: s.water_g }));
    expect(ofAll(lines, ticks, 6_000, 200)).toMatchObject({ g: [18_000, 3_000], water_g: 27_000, mix: { total_g: 48_000, moisture: 6_000, dry_g: 19_200, findings: [] } });
  });

  test('what was kept fits the plan, whatever was kept', () => {
    expect(fitted(null, 2, 2)).toEqual([{ g: [null, null], water: null }, { g: [null, null], water: null }]);
    expect(fitted([{ g: [5], water: 1 }], 2, 1)).toEqual([{ g: [5, null], water: 1 }]);
    expect(isDone({ g: [0, 1], water: 0 })).toBe(true);
    expect(isDone({ g: [0, null], water: 0 })).toBe(false);
    expect(isDone({ g: [0, 1], water: null })).toBe(false);
  });

  test('nothing on the scale is told, not summed', () => {
    expect(() => ofAll(lines, [{ g: [0, 0], water: 5 }], 6_000, 200)).toThrow(Unfit);
  });
});

describe('what the farm knows', () => {
  const lots = {
    a: { name: 'Wheat bran', moisture: 1_500, grade: 'memory', made: 5 },
    b: { name: 'wheat  BRAN', moisture: 1_210, grade: 'supplier', method: 'oven', made: 1, left_g: 900, n: 290 },
    c: { name: 'Wheat bran', moisture: 1_400, grade: 'supplier', made: 9, left_g: 0 },
  };
  test('a drying test wins over what is newer and only said', () => {
    expect(known(lots, 'Wheat bran', 'moisture')).toEqual({ value: 1_210, grade: 'measured' });
    expect(known({ c: lots.c, a: lots.a }, 'wheat bran', 'moisture')).toEqual({ value: 1_400, grade: 'supplier' });
  });
  test('the table answers where the farm has nothing, and says so', () => {
    expect(known({}, 'Wheat bran', 'moisture')).toEqual({ value: 1_200, grade: 'memory' });
    expect(known({}, 'Oak pellets', 'moisture')).toEqual({ value: 800, grade: 'table' });
    expect(known({}, 'moon dust', 'moisture')).toBeNull();
    expect(known(lots, 'Wheat bran', 'n')).toEqual({ value: 290, grade: 'supplier' });
  });
  test('empty lots are not weighed from, and no lot is no store', () => {
    expect(lotsOf(lots, 'Wheat bran')?.map((l) => [l.code, l.mass_g, l.moisture])).toEqual([['b', 900, 1_210]]);
    expect(lotsOf(lots, 'Oak')).toBeNull();
  });
  test('a recipe comes back as it was written', () => {
    expect(rowsOf({ amounts: [{ name: 'Oak', amount: 9_000, wood: true }], basis: 'of_total_weighed', said: 'grams' }))
      .toEqual({ rows: [{ name: 'Oak', amount: 9_000, wood: true }], basis: 'of_total_weighed', said: 'grams' });
    expect(rowsOf({ parts: [{ name: 'Oak sawdust', share: 8_000 }] })).toEqual({ rows: [{ name: 'Oak sawdust', amount: 800_000, wood: true }], basis: 'of_total_dry', said: 'percent' });
  });
});
