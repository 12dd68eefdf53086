/** A recipe written in any basis, shown in every one; a change is a new version, so that what was mixed keeps its own. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { ofMoisture } from '../trade/cautions';
import { refuse } from '../trade/carbide';
import { everyBasis } from '../trade/recipe';
import { app } from '../ui/app';
import { save, saving } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { back, to } from '../ui/route';
import { textWrong } from '../ui/validate';
import { rowsOf } from './mixdata';
import { Bases, EMPTY, MixRows, readMix, Refused, type Mix } from './MixRows';
import { attempt, Findings, Percent, UnitSwitch } from './mixwords';
import { Head } from './parts';
import { NO_SPAWN, spawnFields, spawnOf, SpawnRate, type Spawn } from './SpawnRate';

const LONGEST = 60;

export function RecipeWrite({ code }: { code: string }) {
  const old = code === 'new' ? undefined : app().ref.value.recipes[code];
  const [name, setName] = useState(String(old?.name ?? ''));
  const [mix, setMix] = useState<Mix>(() => (old ? rowsOf(old) : EMPTY));
  const [target, setTarget] = useState<number | null>(typeof old?.['moisture'] === 'number' ? old['moisture'] : null);
  const [spawn, setSpawn] = useState<Spawn>(old ? spawnOf(old) : NO_SPAWN);
  const [base, setBase] = useState<string | null>(typeof old?.['base'] === 'string' ? old['base'] : null);
  const [note, setNote] = useState(String(old?.['note'] ?? ''));
  const [tried, setTried] = useState(false);
  const read = readMix(mix);
  const kind = base ?? read.base;
  const every = mix.basis && read.ready ? attempt(() => everyBasis(mix.basis ?? 'of_total_dry', read.parts)) : null;
  const shares = every && 'ok' in every ? every.ok.of_total_dry ?? [] : [];
  const fields = spawnFields(spawn);
  const wrong = [
    ...(name.trim() ? [textWrong(name, LONGEST, t('field.recipe_written.name'))] : [t('field.missing', { field: t('field.recipe_written.name') })]),
    ...(read.ready ? [] : [t('recipe.not_ready')]),
    ...(fields ? [] : [t('recipe.spawn_open')]),
  ].filter(Boolean);
  const keep = async (): Promise<void> => {
    setTried(true);
    if (wrong.length || refuse(name) || !mix.basis) return;
    // Shares of nothing, and those that rounding makes nothing, are no part of the dry mix.
    const parts = read.parts.map((p, i) => ({ name: p.name, share: shares[i] ?? 0 })).filter((p) => p.share > 0);
    const done = await save([{ ty: 'recipe.written', sub: ['recipe'], d: {
      name: name.trim(), parts, basis: mix.basis, said: mix.said, base: kind,
      amounts: read.parts.map((p) => ({ name: p.name, amount: p.amount, wood: Boolean(p.wood), moisture: p.moisture ?? 0 })),
      ...(target !== null ? { moisture: target } : {}), ...(note.trim() ? { note: note.trim() } : {}), ...fields,
    } }], t('setup.saved', { name: name.trim() }));
    if (done) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={old ? String(old.name) : t('setup.recipes.add')} />
      <UnitSwitch />
      {old && <p class="small quiet">{t('setup.recipe_version')}</p>}
      <label class="field"><span class="field-label">{t('field.recipe_written.name')}</span>
        <input class="input" dir="auto" maxLength={LONGEST} value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
      <Refused name={name} />
      <MixRows mix={mix} onChange={setMix} />
      {mix.basis && read.ready && <Bases basis={mix.basis} parts={read.parts} open />}
      <ChoiceGrid label={t('field.recipe_written.base')} value={kind} onPick={setBase} options={(['sawdust', 'straw', 'other'] as const).map((b) => ({ value: b, name: t(`choice.base.${b}`) }))} />
      <Percent label={t('recipe.target')} value={target} onChange={setTarget} />
      {target !== null && <Findings of={ofMoisture(target, kind)} />}
      <SpawnRate spawn={spawn} onChange={setSpawn} />
      <label class="field"><span class="field-label">{t('field.recipe_written.note')}</span>
        <textarea class="input" dir="auto" maxLength={500} value={note} onInput={(e) => setNote(e.currentTarget.value)} /></label>
      {tried && wrong.map((w) => <p class="wrong" role="alert" key={w}>{w}</p>)}
      {shares.length > 0 && <p class="small quiet" dir="auto">{read.parts.map((p, i) => `${p.name} ${percent(shares[i] ?? 0)}`).join(', ')} {t('parts.basis')}</p>}
      <button type="button" class="btn btn-first" disabled={saving.value} onClick={() => void keep()}>{t('setup.save')}</button>
      {old && <a class="btn" href={to('mix', code)}>{t('recipe.plan')}</a>}
    </main>
  );
}
