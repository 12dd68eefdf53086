/**
 * A weight as a person types or pastes it -> whole grams, a question, or what is wrong.
 * "1,5" is never guessed at: it may be 1.5 kg or a slip for 15 g, so the person is asked.
 */
import { GRAMS_LB, GRAMS_OZ } from '../i18n/format';

export type WeightUnit = 'g' | 'kg' | 'lb' | 'oz';

export type Weighed =
  | { kind: 'grams'; grams: number }
  | { kind: 'ask'; text: string; options: number[] }
  | { kind: 'wrong'; why: 'empty' | 'not_number' | 'negative' | 'zero' | 'too_big'; text: string };

const IN_GRAMS: Record<WeightUnit, number> = { g: 1, kg: 1000, lb: GRAMS_LB, oz: GRAMS_OZ };
const WORDS: Record<string, WeightUnit> = {
  g: 'g', gr: 'g', gram: 'g', grams: 'g', gramme: 'g', grammes: 'g',
  kg: 'kg', kgs: 'kg', kilo: 'kg', kilos: 'kg', kilogram: 'kg', kilograms: 'kg',
  lb: 'lb', lbs: 'lb', pound: 'lb', pounds: 'lb', oz: 'oz', ounce: 'oz', ounces: 'oz',
};

/** Figures with at most one decimal mark; groups of three are told from decimals by `unit`. */
function figures(text: string): { whole: string; rest: string | null } | null {
  const found = /^(\d+|\d{1,3}(?:[ ']\d{3})+)(?:[.,](\d*))?$/.exec(text)
    ?? /^(\d{1,3}(?:,\d{3})+)(?:\.(\d*))?$/.exec(text)
    ?? /^(\d{1,3}(?:\.\d{3})+)(?:,(\d*))?$/.exec(text)
    ?? /^()[.,](\d+)$/.exec(text);
  if (!found) return null;
  const rest = found[2];
  return { whole: (found[1] ?? '').replace(/[ '.,]/g, '') || '0', rest: rest ? rest : null };
}

/**
 * Args: `text` as typed; `unit` of the keypad, taken where none is written; `max` grams.
 * Returns whole grams rounded half up, or the readings to choose from.
 */
export function parseWeight(text: string, unit: WeightUnit, max: number): Weighed {
  const plain = text.normalize('NFKC').replace(/\u2212/g, '-').replace(/\s+/g, ' ').trim().toLowerCase();
  const wrong = (why: 'empty' | 'not_number' | 'negative' | 'zero' | 'too_big'): Weighed =>
    ({ kind: 'wrong', why, text });
  if (plain === '') return wrong('empty');
  const done = (grams: number): Weighed => {
    const whole = Math.floor(grams + 0.5);
    if (whole === 0) return wrong('zero');
    return whole > max ? wrong('too_big') : { kind: 'grams', grams: whole };
  };

  const pair = /^(\d+) ?(?:lbs?|pounds?) ?(\d+(?:[.,]\d+)?) ?(?:oz|ounces?)$/.exec(plain);
  if (pair) return done(Number(pair[1]) * GRAMS_LB + Number((pair[2] ?? '0').replace(',', '.')) * GRAMS_OZ);

  const found = /^([+-]?)([\d .,']+?) ?([a-z]*)\.?$/.exec(plain);
  if (!found) return wrong('not_number');
  const [, sign, digits = '', word = ''] = found;
  const written = word ? WORDS[word] : undefined;
  if (word && !written) return wrong('not_number');
  const read = figures(digits.trim());
  if (!read) return wrong('not_number');
  if (sign === '-') return Number(`${read.whole}.${read.rest ?? 0}`) === 0 ? wrong('zero') : wrong('negative');

  const used = written ?? unit;
  const decimal = Number(`${read.whole}.${read.rest ?? '0'}`);
  if (read.rest === null || used !== 'g') return done(decimal * IN_GRAMS[used]);
  // Grams with a mark: "1,500" and "1.500" are 1500 g read either way (thousands, or kg).
  const joined = Number(read.whole + read.rest);
  if (read.rest.length === 3) return done(joined);
  if (Number(read.rest) === 0) return done(decimal);
  const options = [...new Set([Math.floor(decimal * 1000 + 0.5), joined])].filter((g) => g > 0 && g <= max);
  return options.length ? { kind: 'ask', text, options } : wrong('too_big');
}
