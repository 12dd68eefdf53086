/**
 * From pages of the log to stored rows. Only the units that a page touches are read, folded and written;
 * page and cursor go into one transaction.
 */
import type { Change, Cursor, View } from './db';
import { FARM, Farm, LOOSE, ROW_VERSION, type Row, type Unit } from './fold';
import { findRowOf, isBatch, type FindRow } from './findrow';
import { typeOf } from './ids';
import { isPartCode } from './life';
import { lineOf, NotARecord, type Data, type Line, type Receipt } from './line';
import { codesOf, isBirth, isCorrection, labelsOf } from './lines';

/** A record as pulled: text, MAC, receipt, receipt's MAC, place in the log. */
export type Pulled = [text: string, mac: string, receipt: string, rmac: string, pos: number];

export interface Stored {
  finds: FindRow[];
  gone: string[];
  /** Ids of the records that the rows now hold. */
  ids: string[];
  cursor: Cursor;
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
  private farm: Farm | null = null;
  private loaded = new Set<string>();
  private at = '';

  constructor(private readonly view: View) {}

  /** Forgets the rows held in memory between the pages of one pull. */
  forget(): void {
    this.farm = null;
  }

  /** Folds a page and stores what it touches; null when another tab was faster. */
  async page(records: Pulled[], from: Cursor, to: Cursor): Promise<Stored | null> {
    const lines = records.map(lineOfPulled);
    const extra = new Set<string>();
    for (;;) {
      if (!this.farm || this.at !== `${from.epoch}.${from.pos}`) await this.begin(to.epochs);
      const farm = this.farm as Farm;
      await this.need([...extra, ...(await this.unitsOf(lines))]);
      const touched = new Set<string>();
      for (const line of lines) for (const unit of farm.add(line)) touched.add(unit);
      // A unit that is stored but was not read must not be overwritten by what little is known of it here.
      const unread = (await this.view.rows([...touched].filter((unit) => !this.loaded.has(unit)))).map((row) => row.unit);
      if (unread.length) {
        unread.forEach((unit) => extra.add(unit));
        this.farm = null;
        continue;
      }
      const change = this.changeOf(farm, touched, lines);
      if (!(await this.view.put(change, from, to))) {
        this.farm = null;
        return null;
      }
      touched.forEach((unit) => this.loaded.add(unit));
      this.at = `${to.epoch}.${to.pos}`;
      return { finds: change.rows.map(({ find }) => find), gone: change.gone, ids: lines.map(({ id }) => id), cursor: to, whole: false };
    }
  }

  /** Stores a snapshot in place of everything. */
  async snapshot(rows: Row[], to: Cursor): Promise<Stored> {
    this.farm = null;
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
        return { row: kept, find: findRowOf(kept as unknown as Unit, kept.lines, farm) };
      }),
    };
    await this.view.replace(change, to);
    const ids = rows.flatMap((row) => row.lines.map(({ id }) => id));
    return { finds: change.rows.map(({ find }) => find), gone: [], ids, cursor: to, whole: true };
  }

  private async begin(epochs: string[]): Promise<void> {
    this.farm = new Farm();
    this.farm.index.epochs = epochs;
    this.loaded = new Set();
    await this.need([FARM, LOOSE]);
  }

  private changeOf(farm: Farm, touched: ReadonlySet<string>, lines: Line[]): Change {
    const there = new Set(farm.units());
    const units = [...touched].filter((unit) => there.has(unit));
    return {
      lines,
      rows: units.map((unit) => {
        const row = farm.row(unit);
        return { row, find: findRowOf(farm.unit(unit), row.lines, farm) };
      }),
      gone: [...touched].filter((unit) => !there.has(unit)),
    };
  }

  /** Reads units, and those that share a label with them. */
  private async need(units: string[]): Promise<void> {
    await loadInto(this.farm as Farm, this.view, units, this.loaded);
  }

  /** The units that lines may touch, as far as they are stored. */
  private async unitsOf(lines: Line[]): Promise<string[]> {
    const [parts, others, batches] = [new Set<string>(), new Set<string>(), new Set<string>()];
    const [lost, asked] = [new Set<string>(), new Set<string>()];
    for (const line of lines) {
      const codes = [...codesOf(line), ...(isBirth(line) ? labelsOf(line) : [])];
      for (const code of codes) {
        if (isPartCode(code)) parts.add(code);
        else if (typeOf(code) === 'M') batches.add(code);
        else others.add(code);
      }
      if (isCorrection(line) && !line.s.length) lost.add(line.d['target']);
      if (line.k === 'question.answered' && line.w === undefined && !line.s.length) asked.add(line.d['question']);
    }
    const found = await Promise.all([
      this.view.homes([...parts]), this.view.users([...others, ...parts]),
      lost.size ? this.view.holding(lost) : [],
      asked.size ? this.asking(asked) : [],
    ]);
    return [...batches, ...found.flat()];
  }

  private async asking(questions: ReadonlySet<string>): Promise<string[]> {
    return (await this.view.finds()).filter(({ asks }) => asks.some(({ id }) => questions.has(id))).map(({ unit }) => unit);
  }
}

/**
 * Loads stored rows into a farm, and those of units that claim the same labels, until none is missing.
 * Returns the rows read now.
 */
export async function loadInto(farm: Farm, view: View, units: Iterable<string>, loaded: Set<string>): Promise<Row[]> {
  const read: Row[] = [];
  let todo = [...new Set(units)].filter((unit) => !loaded.has(unit));
  while (todo.length) {
    const rows = await view.rows(todo);
    todo.forEach((unit) => loaded.add(unit));
    const shared = new Set<string>();
    for (const row of rows.sort((a, b) => Number(isBatch(a.unit)) - Number(isBatch(b.unit)))) {
      farm.loadRow(row);
      read.push(row);
      for (const code of (row as Data)['refs'] ?? []) if (isPartCode(code)) shared.add(code);
    }
    todo = shared.size ? (await view.users([...shared])).filter((unit) => !loaded.has(unit)) : [];
  }
  return read;
}
