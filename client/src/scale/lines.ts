/**
 * What a bench scale sends down a serial line: ASCII, a reading a line, a few to some twenty a second, for ever.
 * The forms are common practice without a standard behind them: an optional flag of rest (ST or US, S or D), an
 * optional mark of gross or net, a signed figure, a unit. Pure: text in, readings out.
 */
import { GRAMS_LB, GRAMS_OZ } from '../i18n/format';

export type ScaleUnit = 'g' | 'kg' | 'lb' | 'oz';

/** `grams` is signed and not rounded; `still` is the scale's own word, null where it says none. */
export type LineReading =
  | { kind: 'weight'; grams: number; unit: ScaleUnit; still: boolean | null }
  | { kind: 'over' }
  | { kind: 'no_unit'; figure: number }
  | { kind: 'noise' };

/** No scale writes this much before it ends a line; a line that does not end is thrown away (characters). */
export const LONGEST = 256;
/** Heavier than any bench scale on a farm carries: taken for noise, as the tail of a torn line is (g). */
export const HEAVIEST_G = 200_000;

const IN_GRAMS: Record<ScaleUnit, number> = { g: 1, kg: 1000, lb: GRAMS_LB, oz: GRAMS_OZ };
const UNITS: Record<string, ScaleUnit> = { g: 'g', kg: 'kg', lb: 'lb', lbs: 'lb', oz: 'oz' };

/** Cuts chunks of a stream into lines at CR or LF, wherever the chunks were torn. */
export class Lines {
  private rest = '';
  // Whoever starts to listen in the middle of a line has only its tail.
  private torn = true;

  /** Returns the whole lines that this chunk ends, without empty ones. */
  push(chunk: string): string[] {
    const pieces = (this.rest + chunk).split(/[\r\n]+/);
    this.rest = pieces.pop() ?? '';
    const whole: string[] = [];
    for (const piece of pieces) {
      if (!this.torn && piece.trim() && piece.length <= LONGEST) whole.push(piece);
      this.torn = false;
    }
    if (this.rest.length > LONGEST) {
      this.rest = '';
      this.torn = true;
    }
    return whole;
  }
}

const PAIR = /^([+-]?) *(\d+) *lbs? *[:, ] *(\d+(?:[.,]\d+)?) *oz$/;
const FORM = /^(?:(st|us|ol|s|d)[, ]+)?(?:(?:gs|nt|tr|g|n|gross|net)[, :]+)?([+-]?) *(\d+(?:[.,]\d+)?|[.,]\d+) *(kg|g|lbs?|oz)?(?:[, ]+(st|us|s|d|gs?|nt?))?[, ?]*$/;

/**
 * Reads one line. `assumed` is the unit of a scale that names none, as a person said it; without it such a
 * line is `no_unit`, never a guess.
 */
export function readLine(text: string, assumed: ScaleUnit | null = null): LineReading {
  // Controls (STX, a stray byte of a wrong speed) are no part of a reading, other than tab.
  const plain = text.replace(/^[\u0002\u0003\s]+|[\u0002\u0003\s]+$/g, '').replace(/\t/g, ' ').toLowerCase();
  if (/[^\x20-\x7e]/.test(plain)) return { kind: 'noise' };
  if (/^(?:ol|[a-z]*,?ol[, ].*|-+ol-+|overload|err(?:or)?[ -]?o?l?)$/.test(plain)) return { kind: 'over' };
  const pair = PAIR.exec(plain);
  if (pair) {
    const grams = Number(pair[2]) * GRAMS_LB + Number((pair[3] ?? '0').replace(',', '.')) * GRAMS_OZ;
    return weighed(pair[1] === '-' ? -grams : grams, 'lb', null);
  }
  const found = FORM.exec(plain);
  if (!found) return { kind: 'noise' };
  const [, before, sign, figure = '', named, after] = found;
  const unit = named ? UNITS[named] ?? null : assumed;
  const number = Number(figureOf(figure, unit)) * (sign === '-' ? -1 : 1);
  if (!unit) return { kind: 'no_unit', figure: number };
  const flag = before ?? after ?? (plain.endsWith('?') ? 'us' : '');
  const still = /^(st|s)$/.test(flag) ? true : /^(us|d)$/.test(flag) ? false : null;
  return weighed(number * IN_GRAMS[unit], unit, still);
}

// "1,834 g" is a thousand and more; "1,834 kg" has a decimal comma: no bench carries 1,834 kg.
function figureOf(figure: string, unit: ScaleUnit | null): string {
  return unit === 'g' && /^\d{1,3},\d{3}$/.test(figure) ? figure.replace(',', '') : figure.replace(',', '.');
}

function weighed(grams: number, unit: ScaleUnit, still: boolean | null): LineReading {
  return Math.abs(grams) > HEAVIEST_G ? { kind: 'noise' } : { kind: 'weight', grams, unit, still };
}
