/** What a bench remembers on this device over a reload: its row of weighings, purpose, scale, and crates' tares. */
import { newRound } from '../ui/act';
import type { ScaleUnit } from '../scale/lines';

export type From = 'cable' | 'farm' | 'keys';

export interface BenchKept {
  round: string;
  purpose: 'pick' | 'weigh';
  from: From;
  baud: number;
  unit: ScaleUnit | null;
  tares: Record<string, number>;
}

const KEY = 'bagtrail.bench';

export function readBench(): BenchKept {
  const base: BenchKept = { round: newRound(), purpose: 'pick', from: 'keys', baud: 9600, unit: null, tares: {} };
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<BenchKept>;
    const sound = {
      ...(typeof kept.round === 'string' ? { round: kept.round } : {}),
      ...(kept.purpose === 'weigh' ? { purpose: kept.purpose } : {}),
      ...(kept.from === 'cable' || kept.from === 'farm' ? { from: kept.from } : {}),
      ...(typeof kept.baud === 'number' ? { baud: kept.baud } : {}),
      ...(kept.unit && ['g', 'kg', 'lb', 'oz'].includes(kept.unit) ? { unit: kept.unit } : {}),
      ...(kept.tares && typeof kept.tares === 'object' ? { tares: kept.tares } : {}),
    };
    return { ...base, ...sound };
  } catch {
    return base; // barred or broken: the bench starts afresh, the records are elsewhere
  }
}

export function keepBench(kept: BenchKept): void {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    // Nothing of the farm is kept here.
  }
}
