/** A question as screens show it. */
import type { Question } from './app-types';
import type { Asked } from './findrow';

export function questionOf(ask: Asked, unit: string): Question {
  const { id, rule, recs, sub, lines, voids } = ask;
  return {
    id, rule, recs, sub, lines, voids,
    ...(typeof ask['known'] === 'boolean' ? { known: ask['known'] } : {}), ...(unit.startsWith('M') ? { batch: unit } : {}),
  };
}
