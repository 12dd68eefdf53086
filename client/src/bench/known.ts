/** What this device knows of a bag that a weight can be held against. */
import type { HistoryLine } from '../app-types';
import { app } from '../ui/app';
import type { PickKnown, WeighKnown } from '../scale/doubt';
import type { Target } from '../screens/target';

const int = (v: unknown): number | undefined => (typeof v === 'number' && Number.isInteger(v) ? v : undefined);

export async function pickKnown(target: Target, flush: number): Promise<PickKnown> {
  const picked: Record<number, number> = {};
  let fill_g = target.part?.fill_g;
  let moisture: number | undefined;
  const batch = target.batch ? await app().batch(target.batch) : null;
  if (batch) moisture = batch.moisture;
  if (target.type === 'part') {
    const view = await app().part(target.code);
    for (const { line } of own(view?.history ?? [], target.code, 'bag.harvested')) {
      const of = int(line.d?.['flush']) ?? 1;
      picked[of] = (picked[of] ?? 0) + (int(line.d?.['g']) ?? 0);
    }
  } else if (target.type === 'batch' && batch) {
    for (const [of, grams] of Object.entries(batch.summary.all.flushes)) picked[Number(of)] = grams;
    const fills = Object.values(batch.parts).map((p) => p.fill_g).filter((g): g is number => g !== undefined);
    if (fills.length) fill_g = Math.max(...fills);
  }
  return { n: target.n, picked, flush, ...(fill_g !== undefined ? { fill_g } : {}), ...(moisture !== undefined ? { moisture } : {}) };
}

export async function weighKnown(target: Target, when: string): Promise<WeighKnown> {
  const view = await app().part(target.code);
  const newest = own(view?.history ?? [], target.code, 'bag.weighed')[0];
  const before = int(newest?.line.d?.['g']) ?? target.part?.fill_g;
  return { soaked: when === 'after_soak', ...(before !== undefined ? { before_g: before } : {}) };
}

/** The records of a kind that are about this one bag or group alone, newest first, voided ones left out. */
function own(history: HistoryLine[], code: string, kind: string): HistoryLine[] {
  return history.filter(({ line, voided }) => line.k === kind && !voided && line.s.length === 1 && line.s[0] === code);
}
