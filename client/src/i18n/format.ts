/**
 * Times, numbers and units: the only place that turns stored whole numbers into words and back.
 * Times are shown in the farm's zone, whatever the phone's is.
 */
import { signal } from '@preact/signals';
import { num, spoken, t } from './index';

export type Units = 'metric' | 'us';
export const units = signal<Units>('metric');
export const zone = signal<string>('UTC');

export const DAY = 86_400_000;

/** Grams in a pound and in an ounce (avoirdupois, exact since 1959: 0.45359237 kg). */
export const GRAMS_LB = 453.59237;
export const GRAMS_OZ = GRAMS_LB / 16;
/** Pascal in a pound-force a square inch. */
export const PA_PSI = 6894.757;

export interface Wall { y: number; m: number; d: number; h: number; min: number }

const parts = new Map<string, Intl.DateTimeFormat>();
function clock(tz: string): Intl.DateTimeFormat {
  let made = parts.get(tz);
  if (!made) {
    made = new Intl.DateTimeFormat('en-GB', {
      timeZone: tz, hourCycle: 'h23', year: 'numeric', month: '2-digit', day: '2-digit',
      hour: '2-digit', minute: '2-digit',
    });
    parts.set(tz, made);
  }
  return made;
}

/** What a clock on the farm's wall shows at `ms`. */
export function wall(ms: number, tz = zone.value): Wall {
  const got: Record<string, number> = {};
  for (const p of clock(tz).formatToParts(ms)) if (p.type !== 'literal') got[p.type] = Number(p.value);
  return {
    y: got['year'] ?? 1970, m: got['month'] ?? 1, d: got['day'] ?? 1,
    h: got['hour'] ?? 0, min: got['minute'] ?? 0,
  };
}

/** The moment a farm clock shows these figures. In the hour that a clock change repeats, the first one;
 * in the hour it skips, the moment that much after the change. */
export function fromWall(w: Wall, tz = zone.value): number {
  const guess = Date.UTC(w.y, w.m - 1, w.d, w.h, w.min);
  const shift = (ms: number): number => {
    const s = wall(ms, tz);
    return Date.UTC(s.y, s.m - 1, s.d, s.h, s.min) - Math.floor(ms / 60_000) * 60_000;
  };
  // Zones shift by at most a day's change; asking a day before and after finds both offsets.
  const early = guess - shift(guess - DAY);
  const late = guess - shift(guess + DAY);
  const fits = [early, late].filter((ms) => Math.abs(ms + shift(ms) - guess) < 60_000);
  return fits.length ? Math.min(...fits) : early;
}

/** A bare day is stored as noon in the farm's zone. */
export const noon = (y: number, m: number, d: number, tz = zone.value): number =>
  fromWall({ y, m, d, h: 12, min: 0 }, tz);

/** Days between two moments counted by the farm's calendar, never by 24-hour spans. */
export function calendarDays(from: number, to: number, tz = zone.value): number {
  const a = wall(from, tz);
  const b = wall(to, tz);
  return Math.round((Date.UTC(b.y, b.m - 1, b.d) - Date.UTC(a.y, a.m - 1, a.d)) / DAY);
}

function dateText(ms: number, options: Intl.DateTimeFormatOptions): string {
  // en-GB and en-AU put the day first, en-US the month; the short month is the same word.
  return new Intl.DateTimeFormat(spoken(), { ...options, timeZone: zone.value }).format(ms);
}

/** "12 Jun"; with the year when it is not this one. */
export function day(ms: number, now = Date.now()): string {
  const same = wall(ms).y === wall(now).y;
  return dateText(ms, { day: 'numeric', month: 'short', ...(same ? {} : { year: 'numeric' }) });
}

/** "12 Jun (9 d)". */
export function dayAge(ms: number, now = Date.now()): string {
  return t('time.day_age', { day: day(ms, now), n: calendarDays(ms, now) });
}

export function hour(ms: number): string {
  return dateText(ms, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
}

/** When an act happened: the hour today and yesterday, the day before that; a bare day never gets one. */
export function when(ms: number, bareDay = false, now = Date.now()): string {
  const days = calendarDays(ms, now);
  if (days === 0) return bareDay ? t('time.today') : t('time.today_at', { time: hour(ms) });
  if (days === 1) return bareDay ? t('time.yesterday') : t('time.yesterday_at', { time: hour(ms) });
  return bareDay ? day(ms, now) : t('time.day_at', { day: day(ms, now), time: hour(ms) });
}

/** How long since, coarse and short: "4 min", "3 h", "2 d". */
export function age(ms: number, now = Date.now()): string {
  const minutes = Math.max(0, Math.floor((now - ms) / 60_000));
  if (minutes < 1) return t('time.under_minute');
  if (minutes < 60) return t('time.minutes', { n: minutes });
  if (minutes < 48 * 60) return t('time.hours', { n: Math.floor(minutes / 60) });
  return t('time.days', { n: Math.floor(minutes / 1440) });
}

/** Grams in the farm's units: "850 g", "12.4 kg", or "1 lb 14 oz". */
export function weight(grams: number): string {
  if (units.value === 'us') {
    const oz = Math.round(Math.abs(grams) / GRAMS_OZ * 10) / 10;
    const sign = grams < 0 ? '−' : '';
    if (oz < 16) return t('unit.oz', { n: sign + num(oz) });
    const lb = Math.floor(oz / 16);
    const rest = Math.round((oz - lb * 16) * 10) / 10;
    if (lb >= 20) return t('unit.lb', { n: sign + num(Math.round(Math.abs(grams) / GRAMS_LB * 10) / 10) });
    return rest ? t('unit.lb_oz', { lb: sign + num(lb), oz: num(rest) }) : t('unit.lb', { n: sign + num(lb) });
  }
  if (Math.abs(grams) < 10_000) return t('unit.g', { n: num(grams) });
  return t('unit.kg', { n: num(Math.round(grams / 10) / 100) });
}

/** 0.01 % steps as "76.7 %" (two digits kept only below 1 %). */
export function percent(hundredths: number): string {
  const p = hundredths / 100;
  return t('unit.percent', { n: num(Math.abs(p) < 1 ? p : Math.round(p * 10) / 10) });
}

/** A share of a count, 0..1, as "4.2 %". */
export const share = (part: number, whole: number): string =>
  whole > 0 ? percent(Math.round((part / whole) * 10_000)) : t('unit.percent', { n: 0 });

/** A stored whole number with its catalogue unit. */
export function withUnit(n: number, unit: string | undefined): string {
  switch (unit) {
    case 'g': return weight(n);
    case 'pct100': case '0.01 %': return percent(n);
    case 'cC': case '0.01 °C': return temperature(n);
    case 'ms': return day(n);
    case 'Pa': return pressure(n);
    case 'minor currency units': return num(n / 100);
    case undefined: case '': return num(n);
    default: return t('unit.any', { n: num(n), unit });
  }
}

export function temperature(hundredths: number): string {
  const c = hundredths / 100;
  return units.value === 'us'
    ? t('unit.f', { n: num(Math.round((c * 9 / 5 + 32) * 10) / 10) })
    : t('unit.c', { n: num(Math.round(c * 10) / 10) });
}

/** Pascal as a gauge shows it: "103 kPa" or "14.9 psi". */
export function pressure(pascal: number): string {
  const us = units.value === 'us';
  return t('unit.any', { n: num(Math.round(us ? (pascal / PA_PSI) * 10 : pascal / 100) / 10), unit: us ? 'psi' : 'kPa' });
}

/** A code in three readable pieces, for eyes: B 7K3Q 9TZ W -> "B7K 3Q9 TZW". */
export const spacedCode = (code: string): string =>
  code.length === 9 ? `${code.slice(0, 3)}\u00a0${code.slice(3, 6)}\u00a0${code.slice(6)}` : code;
