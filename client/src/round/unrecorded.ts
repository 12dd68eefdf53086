/** A load whose result nobody told: who inoculates its bags is asked once, and the answer is a record of the load. */
import type { Draft } from '../app-types';

/** Whether nobody has told how the load of these bags went, and nobody was asked yet. */
export const unrecorded = (of: { gate?: string | undefined; asked?: boolean | undefined }): boolean =>
  (of.gate === 'open' || of.gate === 'unsure') && !of.asked;

/** The record that somebody was asked how a load went, and did not know. */
export function notKnown(load: string, rnd?: string): Draft {
  return { ty: 'load.ran', sub: [load], d: { result: 'unsure', asked: true }, ...(rnd ? { rnd } : {}) };
}
