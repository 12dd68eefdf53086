/**
 * Find, in memory: batches with their parts in columns, grouped by strain, place, stage and contamination.
 * Units with own unsent records lie on top of the stored ones. Answers are right offline and take milliseconds.
 */
import type { Found, PlaceView, Query, RefRow, Standing } from './app-types';
import { isBatch, isEndWord, keyOfCode, type FindRow } from './findrow';
import { normalise } from './ids';

const DAY_MS = 86_400_000;
/** From how many symbols on is a typed piece of a code looked for in codes? */
const PIECE = 3;

interface Group {
  strain: string;
  place: string;
  stage: string;
  bad: boolean;
  n: number;
  since: number;
  /** Indexes of its parts in the row. */
  parts: number[];
}

interface Names {
  places: Record<string, RefRow>;
  strains: Record<string, RefRow>;
}

/** A part as far as the index knows it. */
export interface Brief {
  unit: string;
  code: string;
  num: string;
  stage: string;
  ended: boolean;
  place: string;
  strain: string;
  n: number;
  since: number;
  next: number;
  bad: boolean;
  load: string;
  gate: string;
}

export class FindIndex {
  private readonly stored = new Map<string, FindRow>();
  private top = new Map<string, FindRow>();
  /** Label or id of a birth -> unit; a look-up of 50,000 entries that fills with the rows. */
  private readonly homes = new Map<string, string>();
  private readonly grouped = new WeakMap<FindRow, Group[]>();
  private readonly split = new WeakMap<FindRow, string[]>();

  /** Takes stored rows in; `whole` says that there are no others. */
  store(rows: Iterable<FindRow>, gone: Iterable<string> = [], whole = false): void {
    if (whole) {
      this.stored.clear();
      this.homes.clear();
    }
    for (const unit of gone) this.stored.delete(unit);
    for (const row of rows) {
      this.stored.set(row.unit, row);
      this.home(row);
    }
  }

  /** Puts rows with own unsent records on top, in place of those that were there. */
  putOnTop(rows: Iterable<FindRow>): void {
    this.top = new Map([...rows].map((row) => [row.unit, row]));
    for (const row of this.top.values()) this.home(row);
  }

  /** Puts some rows on top beside those that are there. */
  addOnTop(rows: Iterable<FindRow>): void {
    for (const row of rows) {
      this.top.set(row.unit, row);
      this.home(row);
    }
  }

  row(unit: string): FindRow | undefined {
    return this.top.get(unit) ?? this.stored.get(unit);
  }

  /** All rows as they are now, own unsent records included. */
  *rows(): Iterable<FindRow> {
    for (const [unit, row] of this.stored) yield this.top.get(unit) ?? row;
    for (const [unit, row] of this.top) if (!this.stored.has(unit)) yield row;
  }

  unitOf(code: string): string | null {
    if (this.row(code)) return code;
    return this.homes.get(keyOfCode(code)) ?? null;
  }

  /** What is known of a part, or null. */
  brief(code: string): Brief | null {
    const unit = this.homes.get(keyOfCode(code));
    const row = unit === undefined ? undefined : this.row(unit);
    const i = row ? this.codes(row).indexOf(code) : -1;
    return row && i >= 0 ? briefOf(row, i, code) : null;
  }

  /** All parts of a batch. */
  briefs(unit: string): Brief[] {
    const row = this.row(unit);
    return row ? this.codes(row).map((code, i) => briefOf(row, i, code)) : [];
  }

  /** The parts whose last load is this one. */
  inLoad(load: string): Brief[] {
    return [...this.rows()].flatMap((row) => (row.words.includes(load) ? this.briefs(row.unit).filter((part) => part.load === load && part.n) : []));
  }

  find(query: Query, names: Names, now = Date.now()): Found[] {
    const text = (query.text ?? '').trim();
    const code = normalise(text);
    const exact = text ? this.byCode(code) ?? this.byCode(text) : null;
    if (exact && matches(exact.group, exact.row, query, now)) return [this.foundOf(exact.row, exact.group)];
    const found: Found[] = [];
    const test = text ? this.textTest(text, code, names) : null;
    const ended = Boolean(text || query.batch || (query.stage && isEndWord(query.stage)));
    for (const row of this.rows()) {
      if (!isBatch(row.unit) || (query.batch && row.unit !== query.batch)) continue;
      const hit = test?.(row);
      if (hit === false) continue;
      for (const group of this.groups(row)) {
        if (!ended && isEndWord(group.stage)) continue;
        const some = typeof hit === 'function' ? hit(group) : group;
        if (some && matches(some, row, query, now)) {
          const kept = query.minAgeDays ? aged(row, some, query.minAgeDays, now) : some;
          if (kept) found.push(this.foundOf(row, kept));
        }
      }
    }
    return found;
  }

  /** What stands at a place itself. */
  standing(place: string): Standing[] {
    const found: Standing[] = [];
    for (const row of this.rows()) {
      if (!isBatch(row.unit)) continue;
      for (const group of this.groups(row)) {
        if (group.place !== place || isEndWord(group.stage)) continue;
        const { batch, name, strain, stage, n, codes, since, bad } = this.foundOf(row, group);
        found.push({ batch, name, stage, n, codes, since, ...(strain ? { strain } : {}), ...(bad ? { bad } : {}) });
      }
    }
    return found.sort((a, b) => b.n - a.n || (a.batch < b.batch ? -1 : 1));
  }

  /** The places within a place, each with all that stands in it, however deep. */
  inside(place: string, places: Record<string, RefRow>): PlaceView['inside'] {
    const counts = this.counts();
    const children = new Map<string, string[]>();
    for (const [code, row] of Object.entries(places)) {
      const within = row['within'];
      if (typeof within === 'string') children.set(within, [...(children.get(within) ?? []), code]);
    }
    const total = (code: string): number =>
      (counts.get(code) ?? 0) + (children.get(code) ?? []).reduce((sum, child) => sum + total(child), 0);
    return (children.get(place) ?? []).map((code) => ({ code, place: places[code] as RefRow, n: total(code) }));
  }

  private counts(): Map<string, number> {
    const counts = new Map<string, number>();
    for (const row of this.rows()) {
      if (!isBatch(row.unit)) continue;
      for (const { place, n, stage } of this.groups(row)) {
        if (place && !isEndWord(stage)) counts.set(place, (counts.get(place) ?? 0) + n);
      }
    }
    return counts;
  }

  private home(row: FindRow): void {
    if (row.keys) for (const key of row.keys.split(' ')) this.homes.set(key, row.unit);
  }

  private codes(row: FindRow): string[] {
    let codes = this.split.get(row);
    if (!codes) this.split.set(row, (codes = row.codes ? row.codes.split(' ') : []));
    return codes;
  }

  private groups(row: FindRow): Group[] {
    let groups = this.grouped.get(row);
    if (!groups) this.grouped.set(row, (groups = [...groupsOf(row).values()]));
    return groups;
  }

  private byCode(code: string): { row: FindRow; group: Group } | null {
    const unit = this.homes.get(keyOfCode(code));
    const row = unit === undefined ? undefined : this.row(unit);
    const i = row ? this.codes(row).indexOf(code) : -1;
    return row && i >= 0 ? { row, group: groupOf(row, i) } : null;
  }

  /** Tests a row for a text: false, true (all of it), or a function that narrows a group. */
  private textTest(text: string, code: string, names: Names): (row: FindRow) => boolean | ((group: Group) => Group | null) {
    const low = text.toLowerCase();
    const named = (rows: Record<string, RefRow>): Set<string> => new Set(
      Object.entries(rows).filter(([key, row]) => key === code || String(row.name ?? '').toLowerCase().includes(low)).map(([key]) => key),
    );
    const [places, strains] = [named(names.places), named(names.strains)];
    const piece = code.length >= PIECE && /^[0-9A-Z]+$/.test(code) ? code : '';
    const number = `\n${text.toUpperCase()}\n`;
    return (row) => {
      if (row.unit === code || row.name.toLowerCase().includes(low)) return true;
      const parts = new Set<number>();
      if (piece && row.codes.includes(piece)) this.codes(row).forEach((one, i) => { if (one.includes(piece)) parts.add(i); });
      if (`\n${row.nums}\n`.toUpperCase().includes(number)) {
        row.nums.split('\n').forEach((num, i) => { if (num.toUpperCase() === text.toUpperCase()) parts.add(i); });
      }
      const words = row.words.some((word) => word && (places.has(word) || strains.has(word)));
      if (!words && !parts.size) return false;
      return (group) => (places.has(group.place) || strains.has(group.strain) ? group : narrowed(row, group, (i) => parts.has(i)));
    };
  }

  private foundOf(row: FindRow, group: Group): Found {
    const codes = this.codes(row);
    return {
      batch: row.unit, name: row.name, place: group.place || null, stage: group.stage, n: group.n, since: group.since,
      codes: group.parts.map((i) => codes[i] as string),
      ...(group.strain ? { strain: group.strain } : {}), ...(group.bad ? { bad: true } : {}),
    };
  }
}

function briefOf(row: FindRow, i: number, code: string): Brief {
  const group = groupOf(row, i);
  return {
    unit: row.unit, code, num: row.nums.split('\n')[i] ?? '', stage: group.stage, ended: isEndWord(group.stage),
    place: group.place, strain: group.strain, n: group.n, since: group.since, next: row.next[i] ?? 1, bad: group.bad,
    load: row.words[row.load?.[i] ?? 0] ?? '', gate: row.words[row.gate?.[i] ?? 0] ?? '',
  };
}

function groupOf(row: FindRow, i: number): Group {
  const word = (column: number[]): string => row.words[column[i] ?? 0] ?? '';
  return {
    strain: word(row.strain), place: word(row.place), stage: word(row.stage), bad: row.bad[i] === '1',
    n: row.n[i] ?? 0, since: row.since[i] ?? 0, parts: [i],
  };
}

function groupsOf(row: FindRow): Map<number, Group> {
  const groups = new Map<number, Group>();
  const width = row.words.length;
  for (let i = 0; i < row.n.length; i += 1) {
    const n = row.n[i] as number;
    if (!n) continue; // all of it was split off
    const key = ((((row.strain[i] as number) * width) + (row.place[i] as number)) * width + (row.stage[i] as number)) * 2 + Number(row.bad[i]);
    const group = groups.get(key);
    if (group) {
      group.n += n;
      group.since = Math.min(group.since, row.since[i] as number);
      group.parts.push(i);
    } else groups.set(key, groupOf(row, i));
  }
  return groups;
}

function matches(group: Group, row: FindRow, query: Query, now: number): boolean {
  return (!query.batch || row.unit === query.batch) && (!query.strain || group.strain === query.strain)
    && (!query.place || group.place === query.place) && (!query.stage || group.stage === query.stage)
    && (!query.bad || group.bad)
    && (!query.minAgeDays || group.since <= now - query.minAgeDays * DAY_MS);
}

function aged(row: FindRow, group: Group, days: number, now: number): Group | null {
  return narrowed(row, group, (i) => (row.since[i] as number) <= now - days * DAY_MS);
}

function narrowed(row: FindRow, group: Group, keep: (i: number) => boolean): Group | null {
  const parts = group.parts.filter(keep);
  if (!parts.length) return null;
  if (parts.length === group.parts.length) return group;
  return {
    ...group, parts, n: parts.reduce((sum, i) => sum + (row.n[i] as number), 0),
    since: Math.min(...parts.map((i) => row.since[i] as number)),
  };
}
