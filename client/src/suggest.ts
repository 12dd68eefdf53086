/** Which acts make sense for a thing at its stage, the likely one first. Only an order: nothing is refused. */
import type { Suggestion } from './app-types';
import { KINDS } from './catalogue';
import type { Brief } from './findindex';
import { typeOf } from './ids';

const DAY_MS = 86_400_000;
/** Before two weeks hardly a block is run through; the look at it comes first until then. */
const RUN_DAYS = 14;

const ACTS: Record<string, string[]> = {
  filled: ['load.ran', 'bag.moved', 'bag.weighed', 'bag.inoculated', 'bag.contaminated', 'bag.finished'],
  sterilised: ['bag.inoculated', 'bag.moved', 'bag.weighed', 'bag.contaminated', 'bag.finished'],
  spawn_run: ['bag.checked', 'bag.contaminated', 'bag.moved', 'bag.colonised', 'bag.malformed', 'bag.finished'],
  colonised: ['bag.opened', 'bag.moved', 'bag.shocked', 'bag.soaked', 'bag.contaminated', 'bag.finished'],
  fruiting: ['bag.harvested', 'bag.moved', 'bag.contaminated', 'bag.malformed', 'bag.soaked', 'bag.finished'],
  resting: ['bag.soaked', 'bag.shocked', 'bag.harvested', 'bag.moved', 'bag.contaminated', 'bag.finished'],
};
const OF_THINGS: Record<string, string[]> = {
  S: ['bag.inoculated', 'bag.contaminated', 'note.written'],
  H: ['bag.moved', 'bag.contaminated', 'note.written'],
  K: ['crop.packed', 'note.written'],
};

/**
 * Suggestions for a code, given the parts it stands for (one part; all of a batch; all that stands at a
 * place). Where stages differ, that of most bags counts.
 */
export function suggest(code: string, parts: Brief[], now = Date.now()): Suggestion[] {
  const type = typeOf(code);
  const things = OF_THINGS[type];
  if (things) return offer(things, type);
  const live = parts.filter((part) => !part.ended && part.n !== 0);
  if (!live.length) {
    return offer(type === 'M' ? ['bag.filled', 'note.written'] : type === 'P' ? ['bag.moved', 'place.moved'] : ['note.written'], type);
  }
  const stage = most(live);
  const acts = [...(ACTS[stage] ?? ['bag.checked'])];
  const oldest = Math.min(...live.filter((part) => part.stage === stage).map((part) => part.since));
  if (stage === 'spawn_run' && now - oldest >= RUN_DAYS * DAY_MS) toFront(acts, 'bag.colonised');
  if (type === 'P') acts.push('place.moved');
  if (type === 'G') acts.push('group.split', 'group.corrected');
  if (type === 'M' && stage === 'filled') acts.push('bag.filled');
  return offer([...acts, 'note.written'], type);
}

function offer(acts: string[], type: string): Suggestion[] {
  return acts.filter((ty) => KINDS.get(ty)?.sub.includes(type) || ty === 'load.ran')
    .map((ty, i) => ({ ty, ...(i === 0 ? { likely: true } : {}) }));
}

function most(parts: Brief[]): string {
  const counts = new Map<string, number>();
  for (const { stage, n } of parts) counts.set(stage, (counts.get(stage) ?? 0) + n);
  return [...counts].sort((a, b) => b[1] - a[1])[0]?.[0] ?? 'filled';
}

function toFront(acts: string[], ty: string): void {
  acts.splice(acts.indexOf(ty), 1);
  acts.unshift(ty);
}
