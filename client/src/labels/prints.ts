/** Prints as records: each label that was printed is told once, so that it can be found and printed again. */
import type { Draft, HistoryLine, Label } from '../app-types';
import { measures } from './printer';

export type Job = 'first' | 'again' | 'blank';

/** Codes in one record: 16 KiB hold them with room for the rest. */
const MOST_CODES = 900;

/** The records of a print. Blank codes are no subjects yet, or they would wait for a birth. */
export function printedDrafts(labels: Label[], job: Job, stock: string): Draft[] {
  const codes = [...new Set(labels.map(({ code }) => code))];
  const of = measures(stock) ? '' : stock;
  const drafts: Draft[] = [];
  for (let from = 0; from < codes.length; from += MOST_CODES) {
    const part = codes.slice(from, from + MOST_CODES);
    const d = { n: part.length, job, ...(of ? { stock: of } : {}) };
    drafts.push(job === 'blank' ? { ty: 'label.printed', sub: [], d: { ...d, codes: part } } : { ty: 'label.printed', sub: part, d });
  }
  return drafts;
}

export interface Print { id: string; at: number; by: string; n: number; job: Job; stock: string; codes: string[] }

/** The prints among records, newest first; records of one act are one print. */
export function printsOf(records: HistoryLine[]): Print[] {
  const found = new Map<string, Print>();
  for (const { line, voided } of records) {
    if (line.k !== 'label.printed' || voided) continue;
    const codes = [...line.s, ...((line.d?.['codes'] as string[] | undefined) ?? [])];
    const key = line.g || line.id;
    const before = found.get(key);
    if (before) {
      before.codes.unshift(...codes);
      before.n += Number(line.d?.['n'] ?? codes.length);
    } else {
      found.set(key, { id: line.id, at: line.t, by: line.by ?? '', n: Number(line.d?.['n'] ?? codes.length), job: (line.d?.['job'] ?? 'first') as Job, stock: String(line.d?.['stock'] ?? ''), codes });
    }
  }
  return [...found.values()];
}

/** Labels from one number to another as people count, A2 before A10; either end may be left open. */
export function between(labels: Label[], from: string, to: string): Label[] {
  const order = new Intl.Collator(undefined, { numeric: true, sensitivity: 'base' });
  const low = from.trim();
  const high = to.trim();
  return labels.filter(({ number }) => (low === '' && high === '')
    || (number !== undefined && (low === '' || order.compare(number, low) >= 0) && (high === '' || order.compare(number, high) <= 0)));
}
