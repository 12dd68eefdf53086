/** The paper day sheet typed in afterwards: each row of it to the records it means, with the time as written. Pure. */
import type { Draft, Happened } from '../app-types';

/** What a row can say; the same words stand on the paper. */
export const ROW_ACTS = ['inoculated', 'moved', 'checked', 'colonised', 'opened', 'soaked', 'harvested', 'contaminated', 'finished'] as const;
export type RowAct = (typeof ROW_ACTS)[number];

export interface Row {
  /** "14:30", "1430" or "9.05" as written; empty: only the day is known. */
  time: string;
  act: RowAct;
  /** A bag's code, or a batch's name or code. */
  what: string;
  /** Bags, where the row is about some of a batch. */
  n: string;
  /** Shelf or spawn lot, by name or code. */
  to: string;
  /** Grams, for a harvest. */
  g: string;
  /** Choices the act needs: how opened, which sign, where, what became of it. */
  choices: Record<string, string>;
}

/** Which choices each act needs: all of them, for a guess would be a false record. */
export const ROW_CHOICES: Partial<Record<RowAct, readonly string[]>> = {
  opened: ['how'], contaminated: ['sign', 'where', 'kept'], finished: ['cause'],
};

/** What a text names; several: the name is not enough. */
export type Meant = { code: string; n: number; groups?: { code: string; n: number }[] | undefined; of?: [string, string][] | undefined; next?: number | undefined } | 'unknown' | 'several';

export interface Lookup {
  what(text: string): Promise<Meant>;
  place(text: string): Meant;
  lot(text: string): Meant;
  /** A time of the sheet's day; null when it is no time, 'future' when it has not come yet. */
  on(time: string): Happened | null | 'future';
}

/** The field that is wrong, and why: the sentence is `day.wrong.<why>`. */
export type Wrong = { field: keyof Row; why: string };

const whole = (text: string): number => (/^\d+$/.test(text.trim()) ? Number(text.trim()) : NaN);

/** A row's records, or what is wrong with it; nothing is guessed. */
export async function draftsOf(row: Row, find: Lookup): Promise<Draft[] | Wrong> {
  const on = find.on(row.time);
  if (on === null) return { field: 'time', why: 'time' };
  if (on === 'future') return { field: 'time', why: 'future' };
  const what = await find.what(row.what.trim());
  if (what === 'unknown' || what === 'several') return { field: 'what', why: `what_${what}` };
  const d: Record<string, unknown> = {};
  if (row.act === 'moved' || row.act === 'inoculated') {
    const to = (row.act === 'moved' ? find.place : find.lot)(row.to.trim());
    if (to === 'unknown' || to === 'several') return { field: 'to', why: row.act === 'moved' ? 'place' : 'lot' };
    d[row.act === 'moved' ? 'to' : 'spawn'] = to.code;
  }
  if (row.act === 'harvested') {
    const g = whole(row.g);
    if (!(g >= 1)) return { field: 'g', why: 'g' };
    Object.assign(d, { g, of: what.of ?? [], flush: what.next ?? 1 });
  }
  for (const field of ROW_CHOICES[row.act] ?? []) {
    if (!row.choices[field]) return { field: 'choices', why: 'choices' };
    d[field] = row.choices[field];
  }
  const ty = `bag.${row.act}`;
  const n = row.n.trim() ? whole(row.n) : null;
  if (n === null || (what.code.startsWith('B') && n === 1) || row.act === 'harvested') return [{ ty, sub: [what.code], d, on }];
  if (!(n >= 1)) return { field: 'n', why: 'n' };
  const group = what.groups?.find((one) => one.n >= n);
  if (!group) return { field: 'n', why: 'too_few' };
  if (group.n === n) return [{ ty, sub: [group.code], d, on }];
  // The split is dated by the clock alone; the act on its child carries the written time.
  return [{ ty: 'group.split', sub: [group.code], d: { n } }, { ty, sub: ['g-@0'], d, on }];
}

/** Figures of a clock from what a pen wrote; null for what is none. */
export function clockFigures(text: string): { h: number; min: number } | null {
  const found = /^(\d{1,2})\s*[:.h ]?\s*(\d{2})$/.exec(text.trim());
  if (!found) return null;
  const [h, min] = [Number(found[1]), Number(found[2])];
  return h < 24 && min < 60 ? { h, min } : null;
}
