/** Spawn rate on a stated basis; the twin of server/bagtrail/trade/spawn.py. There is no default. */
import { Unfit } from './findings';
import { WHOLE, dryMass, mixMoisture } from './moisture';
import { Ratio } from './ratio';
import { ceiling, halfUp } from './whole';

export const SPAWN_BASES = ['wet_substrate', 'final_block', 'dry_substrate'] as const;
export type SpawnBasis = (typeof SPAWN_BASES)[number];

/** Exact grams of spawn for wet grams of substrate at a rate in 0.01 %. */
export function spawnMass(basis: SpawnBasis, rate: number, substrateG: number, moisture: number): Ratio {
  const part = Ratio.of(rate, WHOLE);
  if (!SPAWN_BASES.includes(basis)) throw new Unfit('spawn_basis_unknown', { basis });
  if (rate < 0 || (basis === 'final_block' && rate >= WHOLE)) throw new Unfit('spawn_rate_range', { rate });
  if (basis === 'final_block') return part.times(substrateG).over(Ratio.one.minus(part));
  if (basis === 'dry_substrate') return dryMass(substrateG, moisture).times(part);
  return part.times(substrateG);
}

/** The rate of spawn on every basis, in 0.01 %. Example: 100 g in 2,400 g at 62 %: 417, 400, 1,096. */
export function spawnRates(spawnG: number, substrateG: number, moisture: number): Record<SpawnBasis, number> {
  if (spawnG < 0 || substrateG <= 0) throw new Unfit('nothing_weighed');
  const spawn = Ratio.of(spawnG).times(WHOLE);
  return {
    wet_substrate: halfUp(spawn.over(substrateG)),
    final_block: halfUp(spawn.over(substrateG + spawnG)),
    dry_substrate: halfUp(spawn.over(dryMass(substrateG, moisture))),
  };
}

/** Grams each block gets when one spawn bag goes into so many blocks. */
export function oneTo(blocks: number, unitG: number): Ratio {
  if (blocks < 1 || unitG < 1) throw new Unfit('nothing_weighed');
  return Ratio.of(unitG, blocks);
}

/** How many spawn bags must be opened: 42 blocks at ten a bag take 5. */
export function spawnUnits(blocks: number, perUnit: number): number {
  if (blocks < 0 || perUnit < 1) throw new Unfit('nothing_weighed');
  return ceiling(Ratio.of(blocks, perUnit));
}

/** A block's moisture once the spawn is in, in 0.01 %. */
export function blockMoisture(substrateG: number, moisture: number, spawnG: number, spawnMoisture: number): number {
  return mixMoisture([[substrateG, moisture], [spawnG, spawnMoisture]]);
}
