/**
 * What Find, place pages, suggestions and questions need of a unit, small enough that all units of a farm
 * fit in memory: one row a batch, its parts in columns. Made from a folded unit, stored beside its row.
 */
import type { Line } from './app-types';
import { ENDS, STAGES } from './catalogue';
import type { Farm, Unit } from './fold';
import { FARM, LOOSE } from './fold';
import type { Ask } from './life';
import type { Data, Line as FoldLine } from './line';
import { isBirth, labelsOf } from './lines';

export interface FindRow {
  unit: string;
  name: string;
  mixed?: number;
  /** Codes joined by blanks: one string is stored and read faster than a thousand. */
  codes: string;
  /** Numbers for people, joined by line feeds. */
  nums: string;
  /** Indexes into `words`: stage (or end), place, strain; 0 is "none". */
  stage: number[];
  place: number[];
  strain: number[];
  /** Its load and what the load leaves open; rows stored by an older version have neither. */
  load?: number[];
  gate?: number[];
  words: string[];
  n: number[];
  since: number[];
  /** Flush proposed next. */
  next: number[];
  /** "1" where contaminated, a character a part. */
  bad: string;
  /** What leads to this unit, joined by blanks: labels of its births, and ids of the births. */
  keys: string;
  asks: Asked[];
  held: { id: string; why: string; line: Line }[];
  /** This device holds its summary only (scope.ts). */
  archived?: true;
}

export type Asked = Ask & { lines: Line[]; voids: Line[] };

/**
 * The row of a folded unit; `lines` are those of its row, the farm gives the lines of questions and held
 * records.
 */
export function findRowOf(unit: Unit, lines: readonly FoldLine[], farm: Farm): FindRow {
  const parts = Object.entries((unit['parts'] ?? {}) as Record<string, Data>);
  const words = [''];
  const at = new Map<string, number>([['', 0]]);
  const word = (text: unknown): number => {
    const key = typeof text === 'string' ? text : '';
    let i = at.get(key);
    if (i === undefined) {
      i = words.push(key) - 1;
      at.set(key, i);
    }
    return i;
  };
  const mixed: unknown = unit['mixed']?.was?.ms;
  return {
    unit: unit.unit,
    name: typeof unit['name'] === 'string' ? unit['name'] : unit.unit,
    ...(typeof mixed === 'number' ? { mixed } : {}),
    codes: parts.map(([code]) => code).join(' '),
    nums: parts.map(([, part]) => part['num'] ?? '').join('\n'),
    stage: parts.map(([, part]) => word(part['end'] ?? part['stage'])),
    place: parts.map(([, part]) => word(part['place'])),
    strain: parts.map(([, part]) => word(part['strain'])),
    load: parts.map(([, part]) => word(part['load'])),
    gate: parts.map(([, part]) => word(part['gate'])),
    words,
    n: parts.map(([, part]) => part['n']),
    since: parts.map(([, part]) => part['ended'] ?? part['since']),
    next: parts.map(([, part]) => part['next']),
    bad: parts.map(([, part]) => (part['bad'] ? '1' : '0')).join(''),
    keys: isBatch(unit.unit) ? keysOf(unit, lines).join(' ') : '',
    asks: ((unit['questions'] ?? []) as Ask[]).map((ask) => asked(ask, farm)),
    held: unit.held.filter(({ why }) => why !== 'unknown' || unit.unit === LOOSE)
      .flatMap(({ id, why }) => {
        const line = farm.index.lines.get(id);
        return line ? [{ id, why, line: line as Line }] : [];
      }),
  };
}

/**
 * A label may lead here although no part has it now: its birth was voided, or is held. Where two births claim
 * it, only the unit whose part has it; the other is found by its `refs`.
 */
function keysOf(unit: Unit, lines: readonly FoldLine[]): string[] {
  const keys = new Set<string>();
  for (const line of lines) {
    if (!isBirth(line)) continue;
    keys.add(line.id);
    for (const label of labelsOf(line)) {
      if (Object.hasOwn(unit['parts'], label) || !unit['refs'].includes(label)) keys.add(label);
    }
  }
  return [...keys];
}

/** The key under which a part's unit is stored: an untagged part has its birth's id in its name. */
export const keyOfCode = (code: string): string => (code.startsWith('g-') ? code.slice(2, 38) : code);

function asked(ask: Ask, farm: Farm): Asked {
  const lines = ask.recs.map((id) => farm.index.lines.get(id)).filter((line): line is FoldLine => Boolean(line));
  const voids = ask.recs.flatMap((id) => farm.index.correctionsOf(id))
    .filter((id) => farm.index.counts(id)).map((id) => farm.index.get(id))
    .filter((line) => line.k === 'record.voided');
  return { ...ask, lines: lines as Line[], voids: voids as Line[] };
}

export const isBatch = (unit: string): boolean => unit !== FARM && unit !== LOOSE;

export const isStage = (word: string): boolean => STAGES.includes(word);

export const isEndWord = (word: string): boolean => ENDS.includes(word);
