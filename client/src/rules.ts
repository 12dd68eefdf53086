/** Named formulas that the data effects of the catalogue cannot say; the twin of server/bagtrail/rules.py. */
import type { Sums, Summary } from './app-types';
import { ENDS, STAGES } from './catalogue';
import type { Data, Line } from './line';

export const DAY_MS = 86_400_000;
/** Two harvests of the same from one phone within this are asked about. */
export const REPEAT_MS = 3_000;
/** Two unseen moves further apart than this are asked about. */
export const APART_MS = 600_000;
const POSITION = /^[0-9]{1,15}$/;

/**
 * Whether the person who wrote `writer` had `other` on the phone: same stream and lower sq; or the same
 * epoch as the writer's base at or below its position; or an earlier epoch of this log.
 */
export function seen(writer: Line, other: Line, epochs: readonly string[]): boolean {
  if (writer.st === other.st) return other.sq < writer.sq;
  const dot = writer.b.indexOf('.');
  const epoch = dot < 0 ? writer.b : writer.b.slice(0, dot);
  const pos = dot < 0 ? '' : writer.b.slice(dot + 1);
  if (!other.ep || !POSITION.test(pos)) return false;
  if (epoch === other.ep) return other.p <= Number(pos);
  const theirs = epochs.indexOf(other.ep);
  const mine = epochs.indexOf(epoch);
  return theirs >= 0 && mine >= 0 && theirs < mine;
}

/**
 * Whether a void or an amendment counts: own and of the last 24 h, or a manager's. Own is what the same person
 * wrote; who is only said to stand at a device (the flag "by") owns there what that device wrote. Decided from
 * the two records and their receipts alone, so any machine decides alike in any order of arrival.
 */
export function mayCorrect(actor: Line, target: Line): boolean {
  if (actor.a === 'o' || actor.a === 'm') return true;
  if (actor.f?.includes('by') && actor.dev !== target.dev) return false;
  return actor.a === 'w' && actor.by === target.by && actor.e - target.e <= DAY_MS;
}

export interface Born {
  label: string;
  count: number;
  suffix: string;
}

/**
 * The parts a birth makes. Each B label is one bag; a G label, or no label, takes what is left of `n`.
 * `suffix` is that of the untagged name.
 */
export function born(line: Line): Born[] {
  const to: string[] = line.d['to'] ?? [];
  const bags = to.filter((code) => code[0] === 'B').length;
  const rest = (line.d['n'] ?? bags) - bags;
  const parts = to.map((code, i) => ({ label: code, count: code[0] === 'B' ? 1 : rest, suffix: `.${i}` }));
  if (rest && bags === to.length) parts.push({ label: '', count: rest, suffix: '' });
  return parts;
}

/**
 * A bag's number in words for people: "A12" and 3 give "A15", "A09" and 1 "A10". Leading zeros stay, for
 * the first bag is called what was said. "" where it ends in no digit.
 */
export function numberOf(first: string, index: number): string {
  const tail = /[0-9]+$/.exec(first)?.[0];
  if (!tail) return '';
  return first.slice(0, -tail.length) + String(Number(tail) + index).padStart(tail.length, '0');
}

/**
 * Brings a part to a stage; steps that were skipped are inferred and marked, none is undone.
 * Fruiting and resting take turns; otherwise a stage lower than the present one only fills in.
 */
export function reachStage(part: Data, stage: string, at: number, stated = false): void {
  const rank = rankOf(stage);
  const have = part['stage'] === undefined ? -1 : rankOf(part['stage']);
  const inferred: string[] = (part['inferred'] ??= []);
  const i = inferred.indexOf(stage);
  if (i >= 0) inferred.splice(i, 1);
  if (rank < have) return;
  if (!stated) inferred.push(...STAGES.slice(have + 1, rank));
  if (part['stage'] !== stage) {
    part['stage'] = stage;
    part['since'] = at;
  }
}

function rankOf(stage: string): number {
  return stage === 'resting' ? 4 : STAGES.indexOf(stage);
}

/**
 * Ten-thousandths of a gram of oven-dry mass: exact, so that sums round only once. `moisture` is in
 * 0.01 % wet basis: dry = bags x fill x (1 - moisture). A BigInt: a thousand groups pass 2^53.
 */
export function dryShareG(bags: number, fillG: number, moisture: number): bigint {
  return BigInt(bags) * BigInt(fillG) * BigInt(10_000 - moisture);
}

/**
 * Biological efficiency in 0.01 %: fresh / oven-dry substrate at spawning x 100, half up; it may exceed
 * 100 %. `dry` is the oven-dry mass at spawning, spawn not counted, in 1/perG of a gram. null without dry
 * mass. Source: usage of Diehle & Royse 1986, Mycologia 78:929-933; Pettipher 1988.
 * Example: 1350 g on 1000 g is 13,500 (135 %).
 */
export function efficiency(freshG: number, dry: bigint, perG = 1): number | null {
  return dry > 0n ? Number(roundHalfUp(BigInt(freshG) * 10_000n * BigInt(perG), dry)) : null;
}

/** Divides whole numbers (b > 0) to the nearest, a half going up; both languages round alike. */
export function roundHalfUp(a: bigint, b: bigint): bigint {
  const above = 2n * a + b;
  const below = 2n * b;
  const quotient = above / below;
  // BigInt cuts towards zero, Python's // goes down.
  return above < 0n && quotient * below !== above ? quotient - 1n : quotient;
}

interface Running {
  bags: number;
  live: number;
  spawned: number;
  stages: Record<string, number>;
  places: Record<string, number>;
  bad: number;
  odd: number;
  ends: Record<string, number>;
  dry: bigint;
  flushes: Record<string, number>;
  g: number;
  unknown: number;
}

/**
 * Sums up a batch: per strain and for the whole, from its parts and its harvest lines. `places` counts
 * live bags; `dry_g` (of spawned bags) is absent when a weight or the moisture is unknown, `be` without
 * it. Flushes as named. A unit as `Farm.unit` gives it.
 */
export function summary(unit: Data): Summary {
  const all = blank();
  const strains = new Map<string, Running>();
  const shared: Summary['shared'] = [];
  const of = (strain: string): Running => {
    let sums = strains.get(strain);
    if (!sums) strains.set(strain, (sums = blank()));
    return sums;
  };
  for (const code of Object.keys(unit['parts']).sort()) {
    const part: Data = unit['parts'][code];
    for (const sums of [all, of(part['strain'] ?? '')]) count(sums, part, unit['moisture']);
  }
  for (const pick of unit['picks'] as Data[]) {
    const pairs: [string, string][] = pick['of'];
    const here = pairs.filter((pair) => pair[0] === unit['unit']);
    if (here.length === pairs.length) addPick(all, pick);
    if (pairs.length === 1 && here[0]) addPick(of(here[0][1]), pick);
    else shared.push({ of: pairs, g: pick['g'], flush: pick['flush'] });
  }
  return {
    all: close(all), shared,
    strains: Object.fromEntries([...strains].map(([strain, sums]) => [strain, close(sums)])),
  };
}

function blank(): Running {
  return {
    bags: 0, live: 0, spawned: 0, stages: {}, places: {}, bad: 0, odd: 0, ends: {}, dry: 0n, flushes: {},
    g: 0, unknown: 0,
  };
}

function count(sums: Running, part: Data, moisture: number | undefined): void {
  const n: number = part['n'];
  sums.bags += n;
  if ('bad' in part) sums.bad += n;
  if ('odd' in part) sums.odd += n;
  if ('end' in part) more(sums.ends, part['end'], n);
  else {
    sums.live += n;
    more(sums.stages, part['stage'], n);
    more(sums.places, part['place'] ?? '', n);
  }
  if (part['strain'] || rankOf(part['stage']) >= rankOf('spawn_run')) {
    sums.spawned += n;
    if ('fill_g' in part && moisture !== undefined) sums.dry += dryShareG(n, part['fill_g'], moisture);
    else sums.unknown += n;
  }
}

function addPick(sums: Running, pick: Data): void {
  sums.g += pick['g'];
  more(sums.flushes, String(pick['flush']), pick['g']);
}

function close(sums: Running): Sums {
  const { dry, unknown, ...out } = sums;
  if (unknown || !sums.spawned) return out;
  const be = efficiency(sums.g, dry, 10_000);
  const known = { ...out, dry_g: Number(roundHalfUp(dry, 10_000n)) };
  return be === null ? known : { ...known, be };
}

function more(counts: Record<string, number>, key: string, n: number): void {
  if (n) counts[key] = (counts[key] ?? 0) + n;
}

/** Whether a word is one of the ends of a part's life. */
export function isEnd(cause: string): boolean {
  return ENDS.includes(cause);
}
