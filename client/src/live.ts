/**
 * The folded farm that screens look at: stored rows, read when somebody asks for them, with own unsent
 * records folded on top. Never written back; thrown away and built again when stored rows change.
 */
import type { View } from './db';
import { LOOSE, type Farm } from './fold';
import { findRowOf, type FindRow } from './findrow';
import { typeOf } from './ids';
import { isPartCode } from './life';
import type { Line } from './line';
import { codesOf, isBirth, labelsOf } from './lines';
import { Reader } from './reader';

export class Live {
  readonly farm: Farm;
  private readonly onTop = new Map<string, Line>();

  private constructor(private readonly view: View, private readonly reader: Reader) {
    this.farm = reader.farm;
  }

  /** Reads the farm's own row and folds the lines on top. */
  static async build(view: View, epochs: string[], lines: Iterable<Line>): Promise<Live> {
    const live = new Live(view, await Reader.open(view, epochs));
    await live.add(lines);
    return live;
  }

  /** Folds own records on top; returns the units they touch. */
  async add(lines: Iterable<Line>): Promise<Set<string>> {
    const some = [...lines];
    await this.load(await this.unitsOf(some));
    await this.reader.readTargets(some);
    await this.reader.house(some.flatMap(codesOf).filter(isPartCode));
    for (const line of some) this.onTop.set(line.id, line);
    const touched = this.reader.add(some);
    // A line may reach a unit only through another of them: read what is missing, then touch again.
    await this.load([...this.reader.missing(touched), ...await this.reader.joined(touched)]);
    return touched;
  }

  /** The units that own records on top touch, as rows for Find. */
  rowsOnTop(): FindRow[] {
    const touched = new Set<string>();
    for (const line of this.onTop.values()) for (const unit of this.farm.touchAgain(line)) touched.add(unit);
    return this.findRows(touched);
  }

  findRows(units: Iterable<string>): FindRow[] {
    const there = new Set(this.farm.units());
    // Of an archived unit nothing is here but what lies on top: its summary says more.
    return [...units].filter((unit) => (there.has(unit) || unit === LOOSE) && !this.reader.archived.has(unit))
      .map((unit) => findRowOf(this.farm.unit(unit), this.farm.row(unit).lines, this.farm));
  }

  /** Reads the units of some codes. */
  async ask(codes: string[]): Promise<Farm> {
    const parts = codes.filter(isPartCode);
    await this.load([...codes.filter((code) => typeOf(code) === 'M'), ...(parts.length ? await this.view.homes(parts) : [])]);
    return this.farm;
  }

  private async load(units: Iterable<string>): Promise<void> {
    // A row's state knows nothing of what lies on top.
    if (await this.reader.read(units)) for (const line of this.onTop.values()) this.farm.touchAgain(line);
  }

  private async unitsOf(lines: Line[]): Promise<string[]> {
    const codes = new Set(lines.flatMap((line) => [...codesOf(line), ...(isBirth(line) ? labelsOf(line) : [])]));
    const parts = [...codes].filter(isPartCode);
    const batches = [...codes].filter((code) => typeOf(code) === 'M');
    const found = await Promise.all([
      this.view.homes(parts), this.view.users([...codes].filter((code) => typeOf(code) !== 'M').concat(lines.map(({ id }) => id))),
    ]);
    return [...batches, ...found.flat()];
  }
}
