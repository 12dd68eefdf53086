/**
 * What this device holds whole, and what it holds of the rest (design 7.10): the twin of the rule in
 * server/bagtrail/scope.py. Whole are batches with a live bag, with something open, or written about within 60
 * days; any other is archived here: a summary row without lines, which are fetched again when somebody looks.
 */
import type { Summary } from './app-types';
import { isBatch, type FindRow } from './findrow';
import { ROW_VERSION, type Row } from './fold';
import type { Data } from './line';
import { summary } from './rules';

export const KEPT_DAYS = 60;
const KEPT_MS = KEPT_DAYS * 86_400_000;

/** What is kept of an archived batch: its sums, and what reaches it. Its parts are columns of its find row. */
export interface SummaryRow extends Row {
  archived: true;
  /** When its newest record was written, ms UTC. */
  last: number;
  summary: Summary;
  refs: string[];
  mixed: Data;
}

/** An archived batch as the server sends it. */
export type Archived = [summary: string, find: FindRow];

/** Whether nothing lives in a batch and nothing in it waits for an answer. */
export function mayRest(unit: Data): boolean {
  if (!isBatch(unit['unit']) || unit['questions'].length || unit['held'].length) return false;
  return Object.values(unit['parts'] as Record<string, Data>).every((part) => 'end' in part || part['n'] === 0);
}

/** Whether a batch is to be held as its summary only; a row that is archived already is not asked about. */
export function isArchived(row: Row, nowMs: number): boolean {
  return mayRest(row) && lastOf(row) < nowMs - KEPT_MS;
}

/** When its newest record was written, ms UTC. */
const lastOf = (row: Row): number => row.lines.reduce((most, { e }) => Math.max(most, e), 0);

/** Whether a batch may have come to that, by what Find knows of it: only then is its row read. */
export function mayBeArchived(find: FindRow, nowMs: number, isEnd: (word: string) => boolean): boolean {
  if (!isBatch(find.unit) || find.archived || find.asks.length || find.held.length) return false;
  return find.n.every((n, i) => n === 0
    || (isEnd(find.words[find.stage[i] ?? 0] ?? '') && (find.since[i] ?? 0) < nowMs - KEPT_MS));
}

export function summaryRow(row: Row): SummaryRow {
  const kept = Object.fromEntries(['name', 'moisture', 'mixed', 'refs'].filter((name) => name in row).map((name) => [name, row[name]]));
  return {
    unit: row.unit, v: ROW_VERSION, archived: true, lines: [], last: lastOf(row), summary: summary(row), ...kept,
  } as unknown as SummaryRow;
}
