/** A weight as it is typed: grams, a question, or what is wrong; never a guess. */
import { describe, expect, it } from 'vitest';
import { parseWeight, type WeightUnit } from '../../../client/src/ui/weight';
import '../../../client/src/i18n/rest';

const MAX = 10_000_000;

describe('parseWeight', () => {
  it.each([
    ['412', 'g', 412], ['1.5 kg', 'g', 1500], ['1,5 kg', 'g', 1500], ['1.5kg', 'g', 1500], ['1.5', 'kg', 1500], ['1,5', 'kg', 1500], ['0.4', 'kg', 400], ['.5', 'kg', 500],
    ['1,500', 'g', 1500], ['1.500', 'g', 1500], ['1 500', 'g', 1500], ["1'500", 'g', 1500], ['1\u00a0500 g', 'g', 1500], ['12,345,678 g', 'g', null], ['850 grams', 'kg', 850], ['２５０', 'g', 250],
    ['412.0', 'g', 412], ['1 lb 4 oz', 'g', 567], ['2 lb', 'g', 907], ['16', 'oz', 454], ['1.5', 'lb', 680], ['2 kilos', 'g', 2000], ['+300', 'g', 300], ['1.500 kg', 'g', 1500],
  ] as [string, WeightUnit, number | null][])('%s in %s is %s g', (text, unit, grams) => {
    const got = parseWeight(text, unit, MAX);
    if (grams === null) expect(got).toMatchObject({ kind: 'wrong', why: 'too_big' });
    else expect(got).toEqual({ kind: 'grams', grams });
  });

  it.each([['1,5', [1500, 15]], ['1.5', [1500, 15]], ['12,25 g', [12_250, 1225]], ['0.45', [450, 45]]])('%s in grams is asked about', (text, options) => {
    expect(parseWeight(text, 'g', MAX)).toEqual({ kind: 'ask', text, options });
  });

  it.each([
    ['', 'empty'], ['   ', 'empty'], ['0', 'zero'], ['0.0', 'zero'], ['-0', 'zero'], ['0,2', 'ask'], ['-5', 'negative'], ['−5', 'negative'], ['-1,5 kg', 'negative'], ['twelve', 'not_number'], ['1.2.3', 'not_number'],
    ['5 stone', 'not_number'], ['1e3', 'not_number'], ['NaN', 'not_number'], ['10000001', 'too_big'], ['99999999999999999999', 'too_big'], ['0.0004 kg', 'zero'], ['\u0000', 'not_number'], ['🍄', 'not_number'], ['٤٢', 'not_number'],
  ])('%j is told: %s', (text, why) => {
    const got = parseWeight(text, 'g', MAX);
    expect(got.kind === 'wrong' ? got.why : got.kind).toBe(why);
  });
});
