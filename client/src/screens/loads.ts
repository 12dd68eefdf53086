/** What the load screens know of a load: its state, its bags by batch, its times and its vessel's own record. */
import type { Ref, RefRow } from '../app-types';
import type { Brief } from '../findindex';
import { t } from '../i18n';
import { spacedCode, when } from '../i18n/format';
import { app } from '../ui/app';
import { anyName } from '../ui/names';
import type { MarkKind } from '../ui/Mark';

const MIN_MS = 60_000;
const HOUR_MS = 60 * MIN_MS;
/** How long after its start a run without a result counts as not recorded, where its times are not known. */
const LATE_MS = 24 * HOUR_MS;
/** How long bags may wait in a load that nobody started before that is asked about. */
const IDLE_MS = 48 * HOUR_MS;
/** From here on a wetted mix that stands warm is told with a warning: it sours within 12 to 24 h (common practice, no source). */
export const SOUR_MS = 12 * HOUR_MS;

/** filling: nobody has started it; running: the heat is on; missing: it must be over, and no result was told. */
export type LoadState = 'filling' | 'running' | 'missing' | 'passed' | 'failed' | 'unsure';

const MARKS: Record<LoadState, MarkKind> = { filling: 'care', running: 'care', missing: 'ask', passed: 'ok', failed: 'bad', unsure: 'ask' };
export const markOf = (state: LoadState): MarkKind => MARKS[state];
export const isOpen = (state: LoadState): boolean => state === 'filling' || state === 'running' || state === 'missing';
/** Nobody told how it went: amber wherever it is shown. */
export const isUnrecorded = (state: LoadState): boolean => state === 'missing' || state === 'unsure';

export const figure = (row: RefRow | undefined, name: string): number | null => (typeof row?.[name] === 'number' ? row[name] as number : null);

export function stateOf(row: RefRow, now = Date.now()): LoadState {
  const result = row['result'];
  if (result === 'passed' || result === 'failed' || result === 'unsure') return result;
  const begun = figure(row, 'begun');
  if (begun === null) return now - (figure(row, 'made') ?? now) > IDLE_MS ? 'missing' : 'filling';
  const times = ['heat_min', 'hold_min', 'cool_min'].map((name) => figure(row, name));
  const run = times.every((x) => x === null) ? LATE_MS : times.reduce<number>((sum, x) => sum + (x ?? 0), 0) * MIN_MS;
  // Told after the cooling is early enough: an hour more, so that nobody is asked at the very minute.
  return now > begun + run + HOUR_MS ? 'missing' : 'running';
}

/** The vessel by its own entry, else as it was typed. */
export function vesselName(row: RefRow): string {
  const pot = row['pot'];
  if (typeof pot === 'string' && app().ref.value.vessels[pot]) return anyName(pot);
  return typeof row['vessel'] === 'string' ? row['vessel'] : '';
}

export const isSteamed = (row: RefRow): boolean => row['way'] === 'atmospheric';

/** "Big pot, today 14:05": what a load is called by people. */
export function loadName(code: string): string {
  const row = app().ref.value.loads[code];
  if (!row) return `${t('type.H')} ${spacedCode(code)}`;
  const at = figure(row, 'begun') ?? figure(row, 'made') ?? 0;
  return t('load.name', { vessel: vesselName(row) || t('type.H'), when: when(at) });
}

export interface BatchIn { code: string; name: string; n: number; live: number; bad: number; burst: number; melted: number; parts: Brief[] }

/** The bags of a load by batch. A part that went on into a later load is counted there. */
export function batchesIn(parts: readonly Brief[], nameOf: (code: string) => string | null = (code) => app().batchName(code)): BatchIn[] {
  const found = new Map<string, BatchIn>();
  for (const part of parts) {
    const one = found.get(part.unit) ?? { code: part.unit, name: nameOf(part.unit) ?? spacedCode(part.unit), n: 0, live: 0, bad: 0, burst: 0, melted: 0, parts: [] };
    found.set(part.unit, one);
    one.n += part.n;
    if (!part.ended) one.live += part.n;
    if (part.bad) one.bad += part.n;
    if (part.stage === 'burst' || part.stage === 'melted') one[part.stage] += part.n;
    one.parts.push(part);
  }
  return [...found.values()].sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));
}

/** How a run went on: when it may be inoculated, and what that follows from. */
export interface Cooled { at: number | null; basis: 'off' | 'begun' | 'ran' | 'unknown'; heat_off: number | null; cool_min: number | null }

export function cooled(row: RefRow): Cooled {
  const cool_min = figure(row, 'cool_min');
  const [begun, heat, hold] = ['begun', 'heat_min', 'hold_min'].map((name) => figure(row, name));
  const planned = begun != null && heat != null && hold != null ? begun + (heat + hold) * MIN_MS : null;
  const [heat_off, basis] = figure(row, 'off') !== null ? [figure(row, 'off'), 'off' as const]
    : planned !== null ? [planned, 'begun' as const]
      : figure(row, 'ran') !== null ? [figure(row, 'ran'), 'ran' as const] : [null, 'unknown' as const];
  return { at: heat_off === null || cool_min === null ? null : heat_off + cool_min * MIN_MS, basis, heat_off, cool_min };
}

/** Of the loads of one vessel and method that ran and did not fail: how many of their bags were contaminated later. */
export interface OwnRecord { loads: number; bags: number; bad: number }

export function ownRecord(like: RefRow, loads: Ref['loads'], partsOf: (code: string) => readonly Brief[]): OwnRecord {
  const sum: OwnRecord = { loads: 0, bags: 0, bad: 0 };
  for (const [code, row] of Object.entries(loads)) {
    if (vesselKey(row) !== vesselKey(like) || (row['way'] ?? '') !== (like['way'] ?? '')) continue;
    if (row['result'] !== 'passed' && row['result'] !== 'unsure') continue;
    const parts = partsOf(code);
    if (!parts.length) continue;
    sum.loads += 1;
    for (const { n, bad } of parts) {
      sum.bags += n;
      if (bad) sum.bad += n;
    }
  }
  return sum;
}

const vesselKey = (row: RefRow): string => String(row['pot'] ?? row['vessel'] ?? '');

/** The oldest mix in it, and how long it has stood wet: until the heat went on, else until now. Null once it ran unstarted. */
export function stoodMs(row: RefRow, mixed: readonly (number | undefined)[], now = Date.now()): number | null {
  const times = mixed.filter((ms): ms is number => ms !== undefined);
  const until = figure(row, 'begun') ?? (row['result'] === undefined ? now : null);
  if (!times.length || until === null) return null;
  const oldest = Math.min(...times);
  return oldest <= until ? until - oldest : null;
}

/** "6 h 20 min" of milliseconds. */
export function span(ms: number): string {
  const min = Math.max(0, Math.round(ms / MIN_MS));
  return min < 60 ? t('load.span.min', { min }) : t('load.span.h', { h: Math.floor(min / 60), min: min % 60 });
}

/** The loads, open ones first, then the newest. */
export function inOrder(loads: Ref['loads'], now = Date.now()): [string, RefRow, LoadState][] {
  const at = (row: RefRow): number => figure(row, 'begun') ?? figure(row, 'made') ?? 0;
  return Object.entries(loads).map(([code, row]): [string, RefRow, LoadState] => [code, row, stateOf(row, now)])
    .sort((a, b) => Number(isOpen(b[2])) - Number(isOpen(a[2])) || at(b[1]) - at(a[1]));
}
