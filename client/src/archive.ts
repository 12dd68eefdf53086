/**
 * Scope at work: batches that ended long ago become summaries on this device, and their lines are fetched from the
 * farm's computer when somebody asks for them or a record touches them.
 */
import { isObject } from './check';
import type { Clock } from './clock';
import type { Cursor, RowText, View } from './db';
import { isEndWord, type FindRow } from './findrow';
import type { Data, Line } from './line';
import type { Outbox } from './outbox';
import type { Stored } from './pull';
import { stored } from './rowtext';
import { isArchived, mayBeArchived, summaryRow } from './scope';

const LOOK_EVERY_MS = 6 * 3_600_000;
/** Rows read in one go: whole ones, and some are large. */
const ROWS_A_SLICE = 25;
const MOST_UNITS = 500;
const MOST_RECORDS = 1_000;

/** Asks the farm's computer once: for the lines of batches, and which batches records lead to. */
export type Ask = (asked: { units?: string[]; records?: string[] }) => Promise<Data>;

/**
 * The lines of all batches asked for, in as many requests as it takes. null where the answer is not one: then the
 * rows here and the log there do not belong together.
 */
export async function fetchLines(ask: Ask, units: readonly string[]): Promise<Map<string, Line[]> | null> {
  const found = new Map<string, Line[]>();
  for (let left = [...units]; left.length;) {
    const { lines } = await ask({ units: left.slice(0, MOST_UNITS) });
    if (!Array.isArray(lines) || !lines.every(isUnitsLines)) return null;
    for (const [unit, its] of lines) found.set(unit, its);
    const next = left.filter((unit) => !found.has(unit));
    if (next.length === left.length) return null;
    left = next;
  }
  return units.every((unit) => found.get(unit)?.length) ? found : null;
}

/** The batches that records lead to, as far as the farm's computer has the records; null as above. */
export async function fetchLeads(ask: Ask, records: readonly string[]): Promise<string[] | null> {
  const found: string[] = [];
  for (let i = 0; i < records.length; i += MOST_RECORDS) {
    const { leads } = await ask({ records: records.slice(i, i + MOST_RECORDS) });
    if (!Array.isArray(leads) || !leads.every((unit) => typeof unit === 'string')) return null;
    found.push(...leads);
  }
  return found;
}

const isUnitsLines = (one: unknown): one is [string, Line[]] =>
  Array.isArray(one) && typeof one[0] === 'string' && Array.isArray(one[1]) && one[1].every(isObject);

/** Archived units of which nothing was written from a time on, ms UTC. */
export function restingAt({ connection }: View, ms: number): Promise<string[]> {
  return connection.run('reading the view', (db) => db.getAllKeysFromIndex('units', 'archived', IDBKeyRange.upperBound(ms, true)));
}

/**
 * Puts summaries in place of whole rows, unless a page came meanwhile: the row may hold more by now. Their find
 * rows stay as they are. Returns whether it did.
 */
export function putSummaries(view: View, rows: RowText[], at: Cursor): Promise<boolean> {
  return view.write(async (tx) => {
    const now = (await tx.objectStore('meta').get('cursor')) as Cursor | undefined;
    if (now?.epoch !== at.epoch || now.pos !== at.pos) return false;
    const finds = tx.objectStore('finds');
    await Promise.all(rows.map(async (row) => {
      const find = await finds.get(row.unit);
      if (!find) return;
      await Promise.all([tx.objectStore('units').put(row), finds.put({ ...find, archived: true })]);
    }));
    return true;
  });
}

export class Archive {
  private looked = -Infinity;

  constructor(private readonly view: View, private readonly outbox: Outbox, private readonly clock: Clock) {}

  /** A few times a day: makes summaries of what has rested long enough. Returns what changed. */
  async look(): Promise<Stored | null> {
    const { w, o, q } = this.clock.stamp();
    const now = w + o;
    // A clock that nobody has compared is no reason to let go of anything.
    if (q === 'none' || q === 'jump' || Math.abs(now - this.looked) < LOOK_EVERY_MS) return null;
    const at = await this.view.cursor();
    if (!at) return null;
    this.looked = now;
    const own = (await this.outbox.onTop()).map(({ text }) => text);
    const finds = (await this.view.finds()).filter((find) => mayBeArchived(find, now, isEndWord) && !named(find, own));
    const gone: FindRow[] = [];
    for (let i = 0; i < finds.length; i += ROWS_A_SLICE) {
      const slice = finds.slice(i, i + ROWS_A_SLICE);
      const rows = (await this.view.rows(slice.map(({ unit }) => unit))).filter((row) => !row.archived && isArchived(row, now));
      if (!rows.length) continue;
      if (!(await putSummaries(this.view, rows.map((row) => stored(summaryRow(row))), at))) break; // another tab fetched: next time
      const units = new Set(rows.map(({ unit }) => unit));
      gone.push(...slice.filter(({ unit }) => units.has(unit)).map((find) => ({ ...find, archived: true as const })));
    }
    return gone.length ? { finds: gone, gone: [], ids: [], cursor: at, whole: false } : null;
  }
}

/** Whether own records that no row holds yet name a batch or what is in it. */
function named(find: FindRow, own: readonly string[]): boolean {
  if (!own.length) return false;
  const keys = [find.unit, ...find.codes.split(' '), ...find.keys.split(' ')].filter(Boolean);
  return own.some((text) => keys.some((key) => text.includes(key)));
}
