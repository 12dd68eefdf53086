/**
 * What this device was shown of the farm's log: the epochs it lived through, the furthest place, and how far it
 * has come with offering what it keeps. Pure; kept as one value in the outbox, changed in its transactions.
 */
import type { Data } from './line';

export interface Mark {
  /** Epochs met, oldest first; the last is the present one. */
  epochs: string[];
  /** `epoch.pos.h` of the furthest place shown, `epoch.0.` right after a reset, "" before anything was heard. */
  proof: string;
  /** Own records above this number (Kept.n) are still to be offered; absent when none are. */
  own?: number;
  /** Some of what is kept is placed in an epoch that was left: the log is to be read through once. */
  strays?: true;
}

export const NO_MARK: Mark = { epochs: [], proof: '' };
const PROOF = /^e[0-9a-z]{11}\.[0-9]{1,15}\.[0-9a-f]{32}$/;

/** The present epoch, "" before anything was heard. */
export const epochOf = (mark: Mark): string => mark.epochs.at(-1) ?? '';

/**
 * Whether a good answer may be acted upon: it speaks of the epoch this device is in, or is the first ever heard.
 * Any other was under way while another tab was told of a reset: what it acknowledges may be gone again.
 */
export const isPresent = (mark: Mark, epoch: string): boolean => !mark.epochs.length || epochOf(mark) === epoch;

/** The mark after a good answer that named the log's head (`pos.h`). */
export function shown(mark: Mark, epoch: string, head: string): Mark {
  if (!isPresent(mark, epoch) || !PROOF.test(`${epoch}.${head}`)) return mark;
  const pos = mark.proof ? Number(mark.proof.split('.')[1]) : 0;
  if (Number(head.split('.')[0]) < pos) return mark;
  return { ...mark, epochs: mark.epochs.length ? mark.epochs : [epoch], proof: `${epoch}.${head}` };
}

/**
 * The mark after a reset that is proven to be the farm's: a new epoch, or the present one again. Null where it
 * names an epoch that was left before: then two servers live for one farm.
 */
export function afterReset(mark: Mark, epoch: string): Mark | null {
  if (mark.epochs.includes(epoch) && epochOf(mark) !== epoch) return null;
  return { epochs: [...mark.epochs.filter((one) => one !== epoch), epoch], proof: `${epoch}.0.`, own: 0, strays: true };
}

/** Epochs as a server's answer tells them, in the order of the log; those before where it tells none. */
export function epochsIn(body: Data, before: string[]): string[] {
  const said: unknown = body['epochs'];
  return Array.isArray(said) && said.every((x) => typeof x === 'string') ? said : before;
}

/** Whether a list of epochs only grew at its end: only then do folded rows stay what they are. */
export const onlyGrew = (before: string[], now: string[]): boolean => before.every((epoch, i) => now[i] === epoch);
