/**
 * Raw text of a camera, a wedge scanner or a keyboard -> one `Reading`, and the words for it.
 * Pure: knows no screen and no device.
 */
import { ALPHABET, CODE_LENGTH, TYPES, guesses, isCode, normalise } from '../ids';

/** Where a text came from: what is typed is always taken for a code with slips in it, what a camera reads never. */
export type How = 'camera' | 'wedge' | 'typed';

/** A known code one slip away: the wrong symbol, or the first of two swapped, counted from 0. */
export interface Slip {
  code: string;
  position: number;
  swap: boolean;
}

export type Reading =
  | { kind: 'code'; code: string; farm: string | null }
  | { kind: 'other_farm'; tag: string }
  | { kind: 'not_ours'; text: string }
  | { kind: 'mistyped'; text: string; guesses: Slip[] }
  | { kind: 'too_short'; text: string; missing: number }
  | { kind: 'too_long'; text: string; extra: number }
  | { kind: 'empty' };

export interface ReadOptions {
  /** Our farm tag; null before pairing, when every farm's label is taken. */
  farmTag: string | null;
  how: How;
  /** Whether this phone knows a code; guesses for a mistyped one are drawn from these only. */
  known: (code: string) => boolean;
}

// A payload is `FARM.CODE`, an address that ends in the code, or the bare code.
const SEPARATORS = /[./\\#?&=:]+/;
const FARM_BEFORE = new RegExp(`(?:^|[/\\\\#?&=:])([${ALPHABET}]{4})\\.$`);
// What a phone's keyboard or a paste puts in for a hyphen or a blank, beyond what `normalise` drops.
const DECORATION = /[\u00ad\u200b-\u200f\u2010-\u2015\u2060\u2212\ufeff]/g;

/** The reading of one text, whatever stands before the code in it. */
export function read(text: string, options: ReadOptions): Reading {
  const plain = normalise(text.replace(DECORATION, '')).replace(/[./]+$/, '');
  if (plain === '') return { kind: 'empty' };
  const tail = plain.split(SEPARATORS).at(-1) ?? '';
  const before = plain.slice(0, plain.length - tail.length);
  const farm = FARM_BEFORE.exec(before)?.[1] ?? null;

  if (isCode(tail)) {
    const foreign = farm !== null && options.farmTag !== null && farm !== options.farmTag;
    return foreign ? { kind: 'other_farm', tag: farm } : { kind: 'code', code: tail, farm };
  }
  const bare = before === '' || before === `${farm}.`;
  const meant = options.how === 'typed' || farm !== null || (options.how === 'wedge' && nearCode(tail));
  if (!bare || !meant) return { kind: 'not_ours', text };
  // Counted in code points: an emoji is one symbol too many, not two.
  const over = [...tail].length - CODE_LENGTH;
  if (over < 0) return { kind: 'too_short', text: tail, missing: -over };
  if (over > 0) return { kind: 'too_long', text: tail, extra: over };
  return { kind: 'mistyped', text: tail, guesses: slips(tail, options.known) };
}

function slips(text: string, known: (code: string) => boolean): Slip[] {
  const typed = [...text];
  return guesses(text, known).map(({ code, position }) => ({
    code,
    position: position - 1,
    // A guess counts from 1, so as an index its position is the neighbour: changed too only in a swap.
    swap: position < CODE_LENGTH && code[position] !== typed[position],
  }));
}

// A wedge loses or doubles a symbol at times; more than two off, or no type letter, is another label. What
// a camera reads is whole, for the symbol's own error correction sees to that.
function nearCode(tail: string): boolean {
  return /^[0-9A-Z]{7,11}$/.test(tail) && TYPES.includes(tail.charAt(0));
}

/**
 * The reading of several texts of one act (a wedge scanner's keys, and the same keys in US positions):
 * the check symbol decides; where none has a code, the one that says most.
 */
export function readBest(texts: readonly string[], options: ReadOptions): Reading {
  return texts
    .map((text) => read(text, options))
    .reduce((best, next) => (rank(next) < rank(best) ? next : best), { kind: 'empty' });
}

const RANKS: Record<Reading['kind'], number> = {
  code: 0,
  other_farm: 1,
  mistyped: 3,
  too_short: 4,
  too_long: 4,
  not_ours: 5,
  empty: 6,
};

/** How far a reading is from a code of this farm (0). */
export function rank(reading: Reading): number {
  return reading.kind === 'mistyped' && reading.guesses.length > 0 ? 2 : RANKS[reading.kind];
}

export interface Words {
  id: string;
  params: Record<string, string | number>;
}

/** What is wrong with a reading and what to do, as a message id with parameters; null for a code. */
export function complaint(reading: Reading): Words | null {
  switch (reading.kind) {
    case 'code':
      return null;
    case 'other_farm':
      return { id: 'scan.read.other_farm', params: { tag: reading.tag } };
    case 'not_ours':
      return { id: 'scan.read.not_ours', params: { text: shorten(reading.text) } };
    case 'mistyped':
      return mistyped(reading.text, reading.guesses);
    case 'too_short':
      return { id: 'scan.read.too_short', params: { missing: reading.missing, length: CODE_LENGTH } };
    case 'too_long':
      return { id: 'scan.read.too_long', params: { extra: reading.extra, length: CODE_LENGTH } };
    case 'empty':
      return { id: 'scan.read.empty', params: {} };
  }
}

function mistyped(text: string, found: Slip[]): Words {
  const [slip] = found;
  if (slip === undefined) return { id: 'scan.read.mistyped', params: { text: shorten(text) } };
  if (found.length > 1) return { id: 'scan.read.mistyped_several', params: { text } };
  const { code, position } = slip;
  if (slip.swap) return { id: 'scan.read.mistyped_swap', params: { text, code, place: position + 1, next: position + 2 } };
  return { id: 'scan.read.mistyped_symbol', params: { text, code, place: position + 1 } };
}

// A foreign label may hold a page of text, control characters and marks that turn the line around.
function shorten(text: string): string {
  const points = [...text.replace(/[\p{C}\s]+/gu, ' ').trim()];
  return points.length > 40 ? `${points.slice(0, 39).join('')}…` : points.join('');
}
