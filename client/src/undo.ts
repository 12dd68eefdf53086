/** The acts of this device, newest first, and what takes one back. */
import type { Draft } from './app-types';
import type { Line } from './line';
import type { Kept } from './outbox';

export interface OwnAct {
  lines: Line[];
  voided: boolean;
}

/** Why an undo's void was written; so that the next undo takes back the act before, not the undo. */
const UNDO = 'undo';

/** Paper does not come back: an undo takes back what was done before the print. */
export const isPrint = (line: Line): boolean => line.k === 'label.printed';

/**
 * Groups own records (newest first) into acts, undos left out. `lineOf` gives what is folded of a record
 * now, `isVoided` whether a live void reaches it.
 */
export function ownActs(kept: Kept[], lineOf: (id: string) => Line | undefined, isVoided: (id: string) => boolean): OwnAct[] {
  const acts = new Map<string, Line[]>();
  for (const one of kept) {
    const line = lineOf(one.id) ?? plainLine(one);
    if ((line.k === 'record.voided' && line.d['why'] === UNDO) || isPrint(line)) continue;
    const act = one.act ?? one.id;
    const lines = acts.get(act);
    if (lines) lines.unshift(line);
    else acts.set(act, [line]);
  }
  return [...acts.values()].map((lines) => ({ lines, voided: lines.every(({ id }) => isVoided(id)) }));
}

/** The voids of an act, the last record first. */
export function voidsOf(lines: Line[]): Draft[] {
  return [...lines].reverse().map((line) => ({ ty: 'record.voided', sub: line.s, d: { target: line.id, why: UNDO } }));
}

/** Enough of a line for a record whose row is not in memory. */
function plainLine(kept: Kept): Line {
  const record = JSON.parse(kept.text) as { ty: string; sub?: string[]; d?: Record<string, unknown>; by?: string; dev: string };
  return {
    id: kept.id, k: record.ty, tv: 1, t: kept.at, e: kept.at, st: kept.st, sq: kept.sq, b: '', by: record.by ?? '',
    dev: record.dev, a: '', ep: '', p: kept.pos ?? 0, s: record.sub ?? [], d: record.d ?? {},
  };
}
