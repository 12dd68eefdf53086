/** How much spawn: a rate on a stated basis, or as it is spoken: one spawn bag to so many blocks. Nothing is taken for granted. */
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { oneTo, SPAWN_BASES, spawnMass, spawnRates, spawnUnits, type SpawnBasis } from '../trade/spawn';
import { halfUp } from '../trade/whole';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { Amount, attempt, Beside, Percent, scale } from './mixwords';

export interface Spawn {
  how: 'none' | 'rate' | 'blocks';
  rate: number | null;
  basis: SpawnBasis | null;
  blocks: string;
  /** One spawn bag weighs, g; needed for the rates of what is spoken, never for the count of bags. */
  unit_g: number | null;
}

export const NO_SPAWN: Spawn = { how: 'none', rate: null, basis: null, blocks: '', unit_g: null };

const count = (text: string): number | null => (/^[1-9]\d{0,3}$/.test(text.trim()) ? Number(text) : null);

/** The fields of a record: the rate with its basis, or the blocks; null while something is missing. */
export function spawnFields(s: Spawn): Record<string, unknown> | null {
  if (s.how === 'none') return {};
  if (s.how === 'blocks') return count(s.blocks) ? { spawn_blocks: count(s.blocks) } : null;
  return s.rate && s.basis ? { spawn_rate: s.rate, spawn_basis: s.basis } : null;
}

export function spawnOf(d: Record<string, unknown>): Spawn {
  if (typeof d['spawn_blocks'] === 'number') return { ...NO_SPAWN, how: 'blocks', blocks: String(d['spawn_blocks']) };
  if (typeof d['spawn_rate'] === 'number') return { ...NO_SPAWN, how: 'rate', rate: d['spawn_rate'], basis: (d['spawn_basis'] as SpawnBasis | undefined) ?? null };
  return NO_SPAWN;
}

export function SpawnRate({ spawn, onChange, again }: { spawn: Spawn; onChange: (s: Spawn) => void; again?: string }) {
  const set = (part: Partial<Spawn>): void => onChange({ ...spawn, ...part });
  return (
    <div class="stack-close" key={again}>
      <ChoiceGrid single label={t('spawn.how')} value={spawn.how} onPick={(v) => set({ how: v as Spawn['how'] })} options={(['none', 'rate', 'blocks'] as const).map((v) => ({ value: v, name: t(`spawn.how.${v}`) }))} />
      {spawn.how === 'rate' && (
        <>
          <Percent label={t('field.recipe_written.spawn_rate')} value={spawn.rate} onChange={(rate) => set({ rate })} />
          <ChoiceGrid label={t('field.recipe_written.spawn_basis')} value={spawn.basis} onPick={(v) => set({ basis: v as SpawnBasis })} options={SPAWN_BASES.map((b) => ({ value: b, name: t(`choice.spawn_basis.${b}`) }))} />
          {spawn.rate && !spawn.basis ? <Beside text={t('unfit.spawn_basis_unknown')} /> : null}
        </>
      )}
      {spawn.how === 'blocks' && (
        <label class="field"><span class="field-label">{t('field.recipe_written.spawn_blocks')}</span><span class="hint">{t('spawn.blocks.hint')}</span>
          <input class="input" inputMode="numeric" value={spawn.blocks} onInput={(e) => set({ blocks: e.currentTarget.value })} /></label>
      )}
    </div>
  );
}

/** Spawn for so many bags of a weight and moisture: grams, and the same rate on every basis. */
export function SpawnFor({ spawn, bags, fill, moisture, onUnit }: { spawn: Spawn; bags: number; fill: number; moisture: number; onUnit: (g: number | null) => void }) {
  if (spawn.how === 'none' || !spawnFields(spawn)) return null;
  const blocks = count(spawn.blocks);
  const made = attempt(() => {
    if (spawn.how === 'blocks') return blocks && spawn.unit_g ? oneTo(blocks, spawn.unit_g) : null;
    return spawn.rate && spawn.basis ? spawnMass(spawn.basis, spawn.rate, fill, moisture) : null;
  });
  const g = 'ok' in made && made.ok ? halfUp(made.ok) : null;
  const rates = g ? attempt(() => spawnRates(g, fill, moisture)) : null;
  return (
    <section class="card">
      <h2>{t('spawn.title')}</h2>
      {spawn.how === 'blocks' && blocks && <p class="small">{t('spawn.open', { n: spawnUnits(bags, blocks), bags, each: blocks })}</p>}
      {spawn.how === 'blocks' && <Amount label={t('spawn.unit')} hint={t('spawn.unit.hint')} quantity="mass" value={spawn.unit_g} onChange={onUnit} />}
      {'wrong' in made && <ErrorNote what={made.wrong} />}
      {g !== null && 'ok' in made && made.ok && <p><b>{t('spawn.each', { g: scale(g), all: scale(halfUp(made.ok.times(bags))) })}</b></p>}
      {rates && 'ok' in rates && <p class="small quiet">{SPAWN_BASES.map((b) => `${percent(rates.ok[b])} ${t(`choice.spawn_basis.${b}`)}`).join(' · ')}</p>}
    </section>
  );
}
