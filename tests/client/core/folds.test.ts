/** Every vector of fixtures/folds: folded in any order, repeated, watched and stored, it is the same. */
import { describe, expect, test } from 'vitest';
import { canonical } from '../../../client/src/contract';
import type { Farm, Row } from '../../../client/src/fold';
import type { Line } from '../../../client/src/line';
import { summary } from '../../../client/src/rules';
import { ABSENT, differences, farmOf, foldCases, linesOf } from './vectors';

const written = (farm: Farm): string => canonical(farm.rows());

function orders(lines: Line[]): Record<string, Line[]> {
  const back = [...lines].reverse();
  const shuffled = lines.map((line, i) => ({ line, rank: (i * 7 + 3) % 11 })).sort((a, b) => a.rank - b.rank)
    .map(({ line }) => line);
  return { 'as written': lines, reversed: back, shuffled, doubled: [...lines, ...lines], 'doubled, backwards first': [...back, ...lines] };
}

describe.each(foldCases())('%s', (_, one) => {
  test('state is what the design says', () => {
    const farm = farmOf(one, linesOf(one));
    const wrong: string[] = [];
    for (const [unit, expected] of Object.entries(one.state)) {
      if (expected === ABSENT) wrong.push(...(farm.units().includes(unit) ? [`${unit}: is there`] : []));
      else wrong.push(...differences(expected, farm.unit(unit), unit));
    }
    for (const [unit, expected] of Object.entries(one.summary ?? {})) {
      wrong.push(...differences(expected, summary(farm.unit(unit)), `summary of ${unit}`));
    }
    for (const [code, expected] of Object.entries(one.history ?? {})) {
      wrong.push(...differences(expected, farm.history(code).map((line) => line.id), `history of ${code}`));
    }
    expect(wrong).toEqual([]);
  });

  test('order of arrival, repeats, reading between and stored rows change nothing', () => {
    const lines = linesOf(one);
    const first = written(farmOf(one, lines));
    for (const [name, some] of Object.entries(orders(lines))) {
      expect(written(farmOf(one, some)), name).toBe(first);
      const farm = farmOf(one, []);
      for (const line of some) {
        farm.add(line);
        written(farm);
      }
      expect(written(farm), `${name}, read between`).toBe(first);
    }
    for (let cut = 1; cut < lines.length; cut += 1) {
      const farm = farmOf(one, []);
      const rows = JSON.parse(JSON.stringify(farmOf(one, lines.slice(0, cut)).rows())) as Row[];
      for (const row of rows) farm.loadRow(row);
      for (const line of lines.slice(cut)) farm.add(line);
      expect(written(farm), `stored after ${cut}`).toBe(first);
    }
  });
});
