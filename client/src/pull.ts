/**
 * From pages of the log to stored rows. Only the units that a page touches are read, folded and written;
 * page and cursor go into one transaction.
 */
import { restingAt } from './archive';
import { VIEW_VERSION, type Change, type Cursor, type View } from './db';
import { FARM, Farm, ROW_VERSION, type Row, type Unit } from './fold';
import { findRowOf, type FindRow } from './findrow';
import { typeOf } from './ids';
import { isPartCode } from './life';
import { lineOf, NotARecord, type Line, type Receipt } from './line';
import { codesOf, isBirth, isCorrection, labelsOf } from './lines';
import { Reader } from './reader';
import { stored } from './rowtext';
import type { Archived } from './scope';

/** Rows of a snapshot read in one go: a few milliseconds on a slow phone. */
const ROWS_A_SLICE = 25;

/** A record as pulled: text, MAC, receipt, receipt's MAC, place in the log. */
export type Pulled = [text: string, mac: string, receipt: string, rmac: string, pos: number];

/** What the farm's computer tells of archived batches. */
export interface Bring {
  /** Their lines as they were at a cursor: of every unit asked for. */
  lines(units: string[], at: Cursor): Promise<Map<string, Line[]>>;
  /** The batches that records lead to, and more rather than less. */
  leads(records: string[], at: Cursor): Promise<string[]>;
}

export interface Stored {
  finds: FindRow[];
  gone: string[];
  /** Ids of the records that the rows now hold. */
  ids: string[];
  /** Where the rows stand; undefined when all were let go. */
  cursor: Cursor | undefined;
  whole: boolean;
}

/** The line of a pulled record; what cannot be read becomes a held line, as on the server. */
export function lineOfPulled([text, , receipt, , pos]: Pulled): Line {
  const said = JSON.parse(receipt) as Receipt;
  let line: Line;
  try {
    line = lineOf(text, said, pos);
  } catch (error) {
    if (!(error instanceof NotARecord)) throw error;
    const st = /"st"\s*:\s*"([0-9a-f]{16})"/.exec(text)?.[1] ?? '';
    return {
      id: said.id, k: '?', tv: 0, t: said.t, e: said.t, st, sq: 0, b: '', by: '', dev: said.dev, a: said.a,
      ep: said.e, p: said.p, s: [], d: {}, f: said.f.split(' ').filter(Boolean), w: 'unread',
    };
  }
  if (line.id !== said.id) { // another text under a known id: kept beside the first, held
    line.id = said.id;
    line.w = 'differs';
  }
  return line;
}

export class Puller {
  private reader: Reader | null = null;
  private at = '';

  constructor(private readonly view: View, private readonly bring: Bring = nothing) {}

  /** Forgets the rows held in memory between the pages of one pull. */
  forget(): void {
    this.reader = null;
  }

  /** Folds a page and stores what it touches; null when another tab was faster. */
  page(records: Pulled[], from: Cursor, to: Cursor): Promise<Stored | null> {
    return this.fold(records.map(lineOfPulled), [], from, to);
  }

  /** Makes archived units whole again; null when another tab was faster. */
  revive(units: readonly string[], at: Cursor): Promise<Stored | null> {
    return this.fold([], units, at, at);
  }

  private async fold(pulled: Line[], wanted: readonly string[], from: Cursor, to: Cursor): Promise<Stored | null> {
    const extra = new Set(wanted);
    /** Archived units that are whole again by the lines fetched for them. */
    const back = new Map<string, Line[]>();
    const asked = new Set<string>();
    for (;;) {
      if (!this.reader || this.at !== `${from.epoch}.${from.pos}`) this.reader = await Reader.open(this.view, to.epochs);
      const { reader } = this;
      const lines = [...[...back.values()].flat(), ...pulled];
      await reader.read([...extra, ...(await this.unitsOf(lines, reader))]);
      await reader.readTargets(lines);
      const short = [...reader.archived].filter((unit) => !back.has(unit));
      if (short.length) {
        for (const [unit, its] of await this.bring.lines(short, from)) back.set(unit, its);
        continue;
      }
      const missed = lost(reader.farm, lines).filter((id) => !asked.has(id));
      if (missed.length) {
        missed.forEach((id) => asked.add(id));
        for (const unit of await this.bring.leads(missed, from)) extra.add(unit);
        continue;
      }
      if (back.size) reader.brought(back);
      const touched = reader.add(lines);
      for (const unit of back.keys()) touched.add(unit);
      // A unit that is stored but was not read must not be overwritten by what little is known of it here.
      const unread = (await this.view.rows(reader.missing(touched))).map((row) => row.unit)
        .concat(await reader.joined(touched));
      if (unread.length) {
        unread.forEach((unit) => extra.add(unit));
        this.reader = null;
        continue;
      }
      const change = changeOf(reader.farm, touched, lines);
      if (!(await this.view.put(change, from, to))) {
        this.reader = null;
        return null;
      }
      back.forEach((_, unit) => reader.archived.delete(unit));
      reader.made(touched);
      this.at = `${to.epoch}.${to.pos}`;
      return { finds: change.rows.map(({ find }) => find), gone: change.gone, ids: lines.map(({ id }) => id), cursor: to, whole: false };
    }
  }

  /** Stores a snapshot in place of everything. A row is a JSON text, from an older server the object itself. */
  async snapshot(sent: (Row | string)[], to: Cursor, archived: readonly Archived[] = []): Promise<Stored> {
    this.reader = null;
    const texts = new Map<string, string>();
    const rows: Row[] = [];
    for (const one of sent) {
      if (rows.length % ROWS_A_SLICE === ROWS_A_SLICE - 1) await breath();
      const row = typeof one === 'string' ? JSON.parse(one) as Row : one;
      if (typeof one === 'string') texts.set(row.unit, one);
      rows.push(row);
    }
    const farm = new Farm();
    farm.index.epochs = to.epochs;
    const ours = rows.every((row) => row.v === ROW_VERSION);
    const first = rows.find((row) => row.unit === FARM);
    if (first) farm.loadRow(first);
    // A row of another version is folded from its lines; of the others only those that ask need the farm.
    for (const row of rows) {
      if (row !== first && (!ours || row['questions']?.length || row['held']?.length)) farm.loadRow(row);
    }
    const change: Change = {
      gone: [],
      lines: rows.flatMap((row) => row.lines),
      rows: rows.map((row) => {
        const kept = ours ? row : farm.row(row.unit);
        return { row: stored(kept, ours ? texts.get(row.unit) : undefined), find: findRowOf(kept as unknown as Unit, kept.lines, farm) };
      }).concat(archived.map(([text, find]) => ({
        row: stored(JSON.parse(text) as Row, text), find: { ...find, archived: true as const },
      }))),
    };
    await this.view.replace(change, to);
    await dropOlder(this.view.name);
    const ids = rows.flatMap((row) => row.lines.map(({ id }) => id));
    return { finds: change.rows.map(({ find }) => find), gone: [], ids, cursor: to, whole: true };
  }

  /** The units that lines may touch, as far as they are stored. */
  private async unitsOf(lines: Line[], reader: Reader): Promise<string[]> {
    const [parts, others, batches, places] = [new Set<string>(), new Set<string>(), new Set<string>(), new Set<string>()];
    let since = Infinity;
    const asked = new Set<string>();
    for (const line of lines) {
      const codes = [...codesOf(line), ...(isBirth(line) ? labelsOf(line) : [])];
      for (const code of codes) {
        if (isPartCode(code)) parts.add(code);
        else if (typeOf(code) === 'M') batches.add(code);
        else if (typeOf(code) === 'P') {
          places.add(code);
          since = Math.min(since, timeOf(reader.farm, line));
        }
        else others.add(code);
      }
      if (line.k === 'question.answered' && line.w === undefined && !line.s.length) asked.add(line.d['question']);
    }
    const found = await Promise.all([
      this.view.homes([...parts]), this.standing([...places], since), this.view.users([...others, ...parts, ...lines.map(({ id }) => id)]),
      asked.size ? this.asking(asked) : [],
    ]);
    return [...batches, ...found.flat()];
  }

  /**
   * The units that stood at places, but for archived ones whose life had ended by then: a trolley that goes to and
   * fro must not fetch all that ever stood on it.
   */
  private async standing(places: string[], since: number): Promise<string[]> {
    const found = places.length ? await this.view.users(places) : [];
    if (!found.length) return found;
    const resting = new Set(await restingAt(this.view, since));
    return found.filter((unit) => !resting.has(unit));
  }

  private async asking(questions: ReadonlySet<string>): Promise<string[]> {
    return (await this.view.finds()).filter(({ asks }) => asks.some(({ id }) => questions.has(id))).map(({ unit }) => unit);
  }
}

/**
 * Views of older versions go once ours is whole. A newer one stays: its version may still be open in another tab,
 * and comes back. A browser that lists no databases keeps them; they cost room, not truth.
 */
async function dropOlder(name: string): Promise<void> {
  for (const { name: found = '' } of (await indexedDB.databases?.().catch(() => [])) ?? []) {
    const version = found.startsWith(`${name}-`) ? Number(found.slice(name.length + 1)) : found === name ? 0 : NaN;
    if (version < VIEW_VERSION) indexedDB.deleteDatabase(found);
  }
}

/** The earliest time that a record says something of: what it corrects may be older than itself. */
function timeOf({ index }: Farm, line: Line): number {
  if (!isCorrection(line)) return line.t;
  const kin = index.kin(line.d['target'] as string);
  return kin.length ? Math.min(...kin.map((id) => index.get(id).t)) : 0;
}

/** What corrections among lines are about that is neither among them nor in the units read. */
function lost({ index }: Farm, lines: readonly Line[]): string[] {
  const here = new Set(lines.map(({ id }) => id));
  return lines.filter(isCorrection).map((line) => line.d['target'] as string).filter((id) => !here.has(id) && !index.lines.has(id));
}

/** Where nobody can be asked, nothing is archived. */
const nothing: Bring = { lines: () => Promise.resolve(new Map()), leads: () => Promise.resolve([]) };

/** Lets a touch or a scan through. */
const breath = (): Promise<void> => new Promise((go) => setTimeout(go));

function changeOf(farm: Farm, touched: ReadonlySet<string>, lines: Line[]): Change {
  const there = new Set(farm.units());
  const units = [...touched].filter((unit) => there.has(unit));
  return {
    lines,
    rows: units.map((unit) => {
      const row = farm.row(unit);
      return { row: stored(row), find: findRowOf(farm.unit(unit), row.lines, farm) };
    }),
    gone: [...touched].filter((unit) => !there.has(unit)),
  };
}
