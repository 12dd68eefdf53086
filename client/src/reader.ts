/**
 * A farm of which only some units are in memory: read when they are needed, with those that share labels.
 *
 * What such a farm cannot see by itself is whether a code without a home is one that nobody has born, or one
 * whose unit was not read. The row "?" names the first; all others are housed elsewhere.
 */
import type { View } from './db';
import { FARM, Farm, LOOSE, type Row } from './fold';
import { isBatch, keyOfCode } from './findrow';
import { isRecordId, typeOf } from './ids';
import { isPartCode } from './life';
import type { Line } from './line';
import { codesOf, isBirth, isCorrection, labelsOf } from './lines';

export class Reader {
  readonly farm = new Farm();
  /** Units asked for of which only the summary is stored: nothing of them is in this farm. */
  readonly archived = new Set<string>();
  private readonly loaded = new Set<string>();
  /** Labels and ids of births in the units that were read. */
  private readonly keys = new Set<string>();
  /** Codes that nobody has born, as stored or as records added here say. */
  private readonly loose = new Set<string>();
  private readonly housed = new Set<string>();

  private constructor(private readonly view: View) {}

  /** Reads the farm's own row and "?". */
  static async open(view: View, epochs: string[]): Promise<Reader> {
    const reader = new Reader(view);
    reader.farm.index.epochs = epochs;
    await reader.read([FARM, LOOSE]);
    return reader;
  }

  /** Reads units, and those that claim the same labels, until none is missing. Returns whether any was read. */
  async read(units: Iterable<string>): Promise<boolean> {
    let todo = this.missing(units);
    const any = todo.length > 0;
    while (todo.length) {
      const rows = await this.view.rows(todo);
      todo.forEach((unit) => this.loaded.add(unit));
      rows.sort((a, b) => Number(isBatch(a.unit)) - Number(isBatch(b.unit)));
      const shared = rows.flatMap((row) => this.take(row));
      todo = shared.length ? this.missing(await this.view.users(shared)) : [];
    }
    if (any) this.settle();
    return any;
  }

  /** Reads the units of what corrections are about, where these do not name the same codes. */
  async readTargets(lines: readonly Line[]): Promise<void> {
    const here = new Set(lines.map(({ id }) => id));
    const targets = lines.filter(isCorrection).map((line) => line.d['target'] as string).filter((id) => !here.has(id));
    const lost = targets.filter((id) => !this.farm.index.lines.has(id));
    if (lost.length) await this.read(await this.view.holding(new Set(lost)));
    // A record may be here because another of its units is: what it corrects must be here whole.
    const kin = new Set(targets.flatMap((id) => this.farm.index.kin(id)));
    const lined = [...kin].map((id) => this.farm.index.get(id));
    const codes = lined.flatMap((line) => [...codesOf(line), ...(isBirth(line) ? labelsOf(line) : [])]);
    const parts = codes.filter(isPartCode);
    const found = await Promise.all([this.view.homes(parts), this.view.users(parts)]);
    await this.read([...codes.filter((code) => typeOf(code) === 'M'), ...found.flat()]);
  }

  /** Takes note that codes live in archived units, which are not here: own records of them are of no unknown bag. */
  async house(codes: readonly string[]): Promise<void> {
    if (!this.archived.size || !codes.length) return;
    for (const [code, unit] of await this.view.homesOf([...codes])) if (this.archived.has(unit)) this.housed.add(code);
    this.farm.setHoused(this.housed);
  }

  /** Takes note of archived units whose lines were fetched and are added next. */
  brought(back: ReadonlyMap<string, readonly Line[]>): void {
    for (const lines of back.values()) this.lead(lines);
    this.settle();
  }

  /** Adds records; returns the units they touch. */
  add(lines: Iterable<Line>): Set<string> {
    const touched = new Set<string>();
    for (const line of lines) for (const unit of this.farm.add(line)) touched.add(unit);
    for (const code of this.farm.homeless()) if (!this.housed.has(code)) this.loose.add(code);
    return touched;
  }

  /** The units that were not read. */
  missing(units: Iterable<string>): string[] {
    return [...new Set(units)].filter((unit) => !this.loaded.has(unit));
  }

  /** The stored units that claim a label of a birth that only now came to one of these units. */
  async joined(units: Iterable<string>): Promise<string[]> {
    const labels = [...units].filter(isBatch).flatMap((unit) => this.farm.row(unit).lines)
      .filter((line) => isBirth(line) && !this.keys.has(line.id)).flatMap(labelsOf);
    if (!labels.length) return [];
    return this.missing((await Promise.all([this.view.homes(labels), this.view.users(labels)])).flat());
  }

  /** Units that are whole in memory because they were made here. */
  made(units: Iterable<string>): void {
    for (const unit of units) {
      this.loaded.add(unit);
      if (isBatch(unit)) this.farm.row(unit).lines.filter(isBirth).forEach((line) => this.keys.add(line.id));
    }
  }

  /** Takes a row in; returns the labels and records it shares with other units. */
  private take(row: Row): string[] {
    if (row.archived) this.archived.add(row.unit);
    else this.farm.loadRow(row);
    if (row.unit === LOOSE) for (const code of row['codes'] as string[]) this.loose.add(code);
    if (isBatch(row.unit)) this.lead(row.lines);
    return ((row['refs'] ?? []) as string[]).filter((ref) => isPartCode(ref) || isRecordId(ref));
  }

  private lead(lines: readonly Line[]): void {
    for (const line of lines.filter(isBirth)) {
      this.keys.add(line.id);
      labelsOf(line).forEach((label) => this.keys.add(label));
    }
  }

  private settle(): void {
    for (const code of this.housed) if (this.keys.has(keyOfCode(code))) this.housed.delete(code);
    for (const code of this.farm.homeless()) {
      if (!this.loose.has(code) && !this.keys.has(keyOfCode(code))) this.housed.add(code);
    }
    this.farm.setHoused(this.housed);
  }
}
