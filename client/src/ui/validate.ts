/**
 * What a person typed into a form -> the data of a record, or for each field a sentence that says what is
 * wrong, where, and what to do. The bounds are the catalogue's; this file only knows how people write.
 */
import { num, t } from '../i18n';
import { GRAMS_OZ, PA_PSI, percent, temperature, units, weight } from '../i18n/format';
import { parseWeight, type WeightUnit } from './weight';
import type { Field, Kind } from './catalogue';

export type Values = Record<string, unknown>;
export type Wrong = Record<string, string>;

export const isWeight = (f: Field): boolean => f.type === 'int' && /^g\b/.test(f.unit ?? '');
export const isPercent = (f: Field): boolean => Boolean(f.unit?.startsWith('0.01 %'));
export const isTemperature = (f: Field): boolean => f.unit === '0.01 °C';
const isPressure = (f: Field): boolean => f.unit === 'Pa';

/** The unit a person types in: the stored one is an integer, this one is what scales and gauges show. */
export function typedUnit(f: Field): string {
  const us = units.value === 'us';
  if (isWeight(f)) return us ? 'oz' : 'g';
  if (isPercent(f)) return '%';
  if (isTemperature(f)) return us ? '°F' : '°C';
  if (isPressure(f)) return us ? 'psi' : 'kPa';
  if (f.unit === 'minor currency units') return '';
  return f.unit && ['h', 'min'].includes(f.unit) ? f.unit : '';
}

/** A stored number as the person would type it. */
export function toTyped(f: Field, n: number): string {
  const us = units.value === 'us';
  if (isWeight(f)) return us ? String(Math.round((n / GRAMS_OZ) * 10) / 10) : String(n);
  if (isPercent(f)) return String(n / 100);
  if (isTemperature(f)) return String(us ? Math.round((n / 100) * 18 + 320) / 10 : n / 100);
  if (isPressure(f)) return String(Math.round(us ? (n / PA_PSI) * 10 : n / 100) / 10);
  if (f.unit === 'minor currency units') return String(n / 100);
  return String(n);
}

function fromTyped(f: Field, x: number): number {
  const us = units.value === 'us';
  if (isPercent(f)) return Math.round(x * 100);
  if (isTemperature(f)) return Math.round(us ? ((x - 32) * 500) / 9 : x * 100);
  if (isPressure(f)) return Math.round(us ? x * PA_PSI : x * 1000);
  if (f.unit === 'minor currency units') return Math.round(x * 100);
  return x;
}

function shown(f: Field, n: number): string {
  if (isWeight(f)) return weight(n);
  if (isPercent(f)) return percent(n);
  if (isTemperature(f)) return temperature(n);
  const unit = typedUnit(f);
  return unit ? `${toTyped(f, n)} ${unit}` : num(Number(toTyped(f, n)));
}

/** A decimal number with comma or point; null when it is none or can be read two ways. */
export function decimal(text: string): number | null {
  const plain = text.normalize('NFKC').replace(/\u2212/g, '-').replace(/\s/g, '').replace(/%|°[CF]?$/gi, '');
  return /^[+-]?\d+([.,]\d+)?$/.test(plain) ? Number(plain.replace(',', '.')) : null;
}

function int(f: Field, text: string, label: string): number | { wrong: string } {
  if (isWeight(f)) {
    const got = parseWeight(text, typedUnit(f) as WeightUnit, f.max ?? Number.MAX_SAFE_INTEGER);
    if (got.kind === 'ask') return { wrong: t('field.weight_unclear', { field: label, text, a: weight(got.options[0] ?? 0) }) };
    if (got.kind === 'wrong') {
      return { wrong: got.why === 'too_big' ? t('field.too_big', { field: label, max: shown(f, f.max ?? 0) })
        : got.why === 'zero' || got.why === 'negative' ? t('field.too_small', { field: label, min: shown(f, f.min ?? 1), text })
          : t('field.not_weight', { field: label, text }) };
    }
    return got.grams < (f.min ?? 0) ? { wrong: t('field.too_small', { field: label, min: shown(f, f.min ?? 0), text }) } : got.grams;
  }
  const x = decimal(text);
  if (x === null) return { wrong: t('field.not_number', { field: label, text }) };
  const whole = !isPercent(f) && !isTemperature(f) && !isPressure(f) && f.unit !== 'minor currency units';
  if (whole && !Number.isInteger(x)) return { wrong: t('field.not_whole', { field: label, text }) };
  const n = fromTyped(f, x);
  if (n < (f.min ?? 0)) return { wrong: t('field.too_small', { field: label, min: shown(f, f.min ?? 0), text }) };
  if (f.max !== undefined && n > f.max) return { wrong: t('field.too_big', { field: label, max: shown(f, f.max) }) };
  return n;
}

/** Characters no text of a record may hold: NUL, and halves of a surrogate pair. */
const UNFIT = /\u0000|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/;

/** What is wrong with a text, or null. Length counts characters as people do, not UTF-16 units. */
export function textWrong(text: string, max: number, label: string): string | null {
  if (UNFIT.test(text)) return t('field.unfit', { field: label });
  const length = [...text].length;
  return length > max ? t('field.too_long', { field: label, max, over: length - max }) : null;
}

/** Reads all fields of a kind. `d` holds only what was filled in; `wrong` is empty when it may be saved. */
export function readForm(kind: Pick<Kind, 'fields'>, values: Values, label: (f: Field) => string): { d: Record<string, unknown>; wrong: Wrong } {
  const d: Record<string, unknown> = {};
  const wrong: Wrong = {};
  for (const f of kind.fields) {
    const value = values[f.name];
    const empty = value === undefined || value === null || value === false
      || (typeof value === 'string' && value.trim() === '') || (Array.isArray(value) && value.length === 0);
    if (empty) {
      if (f.required) wrong[f.name] = t(f.type === 'choice' || f.type === 'code' ? 'field.choose' : 'field.missing', { field: label(f) });
      continue;
    }
    if (f.type === 'int' && typeof value === 'string') {
      const got = int(f, value, label(f));
      if (typeof got === 'number') d[f.name] = got;
      else wrong[f.name] = got.wrong;
    } else if (f.type === 'text' && typeof value === 'string') {
      const bad = textWrong(value.trim(), f.max ?? 200, label(f));
      if (bad) wrong[f.name] = bad;
      else d[f.name] = value.trim();
    } else d[f.name] = value;
  }
  return { d, wrong };
}
