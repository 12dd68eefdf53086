/** Weighing in: tick each ingredient with what the scale shows; the water follows from what was really weighed. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { correct, fromSqueeze } from '../trade/correct';
import { dryPerBag, TOLERANCE, weighIn } from '../trade/weigh';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { useAnswer } from '../ui/load';
import { ErrorNote } from '../ui/Notes';
import { goInstead, to } from '../ui/route';
import { Amount, attempt, Findings, Percent, scale, UnitSwitch } from './mixwords';
import { Head, Loading } from './parts';

interface Line { name: string; lot?: string; planned_g: number; moisture: number }
const KEY = 'bagtrail.weigh.';

/** What was ticked so far survives a reload or a dead battery: it is not yet a record. */
function kept(plan: string): { g: (number | null)[]; water: number | null } | null {
  try {
    return JSON.parse(localStorage.getItem(KEY + plan) ?? 'null') as { g: (number | null)[]; water: number | null } | null;
  } catch {
    return null;
  }
}

export function Weigh({ code }: { code: string }) {
  const row = app().ref.value.plans[code];
  const first = kept(code);
  const lines = (row?.['lines'] ?? []) as Line[];
  const [g, setG] = useState<(number | null)[]>(first?.g ?? lines.map(() => null));
  const [water, setWater] = useState<number | null>(first?.water ?? null);
  // A figure put in by the button is shown in its field, which otherwise keeps what was typed.
  const [ticks, setTicks] = useState(0);
  if (!row) return <main class="screen" id="main"><Head title={t('mix.weigh.title')} /><ErrorNote what={t('mix.no_plan')} todo={t('unknown.todo')} /></main>;
  const target = Number(row['target']);
  const remember = (next: (number | null)[], added: number | null): void => {
    setG(next);
    setWater(added);
    try {
      localStorage.setItem(KEY + code, JSON.stringify({ g: next, water: added }));
    } catch {
      // No room or barred: the figures stay on screen until they are saved.
    }
  };
  // The plan may arrive after the screen did: as many figures as it has lines, whatever was kept.
  const put = (i: number, x: number | null): void => remember(lines.map((_, at) => (at === i ? x : g[at] ?? null)), water);
  const tolerance = Number(app().ref.value.settings['tolerance'] ?? TOLERANCE);
  const sum = attempt(() => weighIn(lines.map((l, i) => ({ name: l.name, planned_g: l.planned_g, moisture: l.moisture, actual_g: g[i] ?? null })), target, water, tolerance));
  const batch = String(row['batch']);
  const finish = async (): Promise<void> => {
    if (!('ok' in sum) || water === null) return;
    const w = sum.ok;
    const shares = lines.map((l, i) => ({ name: l.name, share: w.shares[i] ?? 0 })).filter((p) => p.share > 0);
    const done = await save([
      { ty: 'batch.mixed', sub: [batch], d: {
        name: String(row.name), plan: code, target, moisture: w.moisture, wet_g: w.total_g, dry_g: w.dry_g, water_g: water, parts: shares.slice(0, 20),
        ...(row['recipe'] ? { recipe: row['recipe'], recipe_name: row['recipe_name'] ?? '' } : {}), ...(row['charges'] ? { charges: row['charges'] } : {}),
        ...(row['basis'] ? { basis: row['basis'], said: row['said'] ?? 'percent', amounts: row['amounts'] } : {}),
        lines: lines.map((l, i) => ({ name: l.name, ...(l.lot ? { lot: l.lot } : {}), planned_g: l.planned_g, g: g[i] ?? 0, moisture: l.moisture })),
      } },
      ...lines.flatMap((l, i) => (l.lot && g[i] ? [{ ty: 'material.taken', sub: [l.lot], d: { g: g[i], batch } }] : [])),
    ], t('mix.weighed', { name: String(row.name) }));
    if (!done) return;
    localStorage.removeItem(KEY + code);
    goInstead('measure', batch);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('mix.weigh.title')} sub={String(row.name)} />
      <UnitSwitch />
      {lines.map((l, i) => (
        <section class="card" key={i}>
          <h2><span dir="auto">{l.name}</span><span>{g[i] === null || g[i] === undefined ? '' : '✓'}</span></h2>
          <p style={{ fontSize: 'var(--t-figure)', fontWeight: 680, lineHeight: 1 }}>{scale(l.planned_g)}</p>
          <button type="button" class="btn" onClick={() => { put(i, l.planned_g); setTicks(ticks + 1); }}>{t('mix.exact')}</button>
          <Amount key={`${i}-${ticks}`} label={t('mix.scale_shows', { name: l.name })} quantity="mass" value={g[i] ?? null} onChange={(x) => put(i, x)} />
        </section>
      ))}
      {'wrong' in sum && <ErrorNote what={sum.wrong} />}
      {'ok' in sum && (
        <>
          <Findings of={sum.ok.findings} />
          <section class="card">
            <h2>{t('mix.water')}</h2>
            <p style={{ fontSize: 'var(--t-figure)', fontWeight: 680, lineHeight: 1 }} aria-live="polite">{scale(sum.ok.water_g)}</p>
            <p class="small quiet">{t('mix.water.why', { p: percent(target) })}</p>
            <button type="button" class="btn" onClick={() => { remember(g, 'ok' in sum ? sum.ok.water_g : null); setTicks(ticks + 1); }}>{t('mix.exact')}</button>
            <Amount key={`w-${ticks}`} label={t('mix.scale_shows', { name: t('mix.water') })} quantity="mass" value={water} onChange={(x) => remember(g, x)} />
          </section>
          <dl class="facts">
            <dt>{t('mix.total')}</dt><dd>{scale(sum.ok.total_g)}</dd>
            <dt>{t('mix.moisture')}</dt><dd>{t('mix.wb', { p: percent(sum.ok.moisture) })}</dd>
            {Boolean(row['fill_g']) && <><dt>{t('mix.dry_bag')}</dt><dd>{scale(dryPerBag(Number(row['fill_g']), sum.ok.moisture))}</dd></>}
          </dl>
          <button type="button" class="btn btn-first" disabled={!sum.ok.done || water === null} onClick={() => void finish()}>{t('mix.done')}</button>
          {(!sum.ok.done || water === null) && <p class="quiet">{t('mix.not_done')}</p>}
        </>
      )}
    </main>
  );
}

/** After mixing: a measured moisture or a squeeze, and what to add for it. */
export function Measure({ code }: { code: string }) {
  const view = useAnswer(() => app().batch(code), [code]);
  const records = useAnswer(() => app().records(500), []);
  const [found, setFound] = useState<number | null>(null);
  const [felt, setFelt] = useState<string | null>(null);
  if (view === undefined || records === undefined) return <main class="screen" id="main"><Loading /></main>;
  const mix = records?.find(({ line, voided }) => !voided && line.k === 'batch.mixed' && line.s[0] === code)?.line.d;
  if (!view || !mix) return <main class="screen" id="main"><Head title={t('mix.measure.title')} /><ErrorNote what={t('batch.unknown')} todo={t('unknown.todo')} /></main>;
  const wet = Number(mix['wet_g'] ?? 0);
  const target = Number(mix['target'] ?? mix['moisture'] ?? 0);
  const lines = (mix['lines'] ?? []) as { name: string; g: number; moisture: number }[];
  const fix = found !== null && wet ? attempt(() => correct(wet, found, target, lines.map((l) => [Math.max(0, Math.round(l.g * (1 - l.moisture / 10_000))), l.moisture] as const)))
    : felt && wet ? attempt(() => fromSqueeze(wet, felt)) : null;
  const put = async (added: boolean): Promise<void> => {
    const c = fix && 'ok' in fix ? fix.ok : null;
    const d = { ...(found !== null ? { found } : {}), ...(felt ? { felt } : {}),
      ...(added && c?.kind === 'water' ? { added_water_g: c.g } : {}), ...(added && c?.kind === 'dry_mix' ? { added_mix_g: c.g } : {}),
      ...(added && c?.moisture != null ? { moisture: c.moisture } : found !== null ? { moisture: found } : {}), wet_g: added && c ? c.total_g : wet };
    if (await save([{ ty: 'batch.tested', sub: [code], d }], t('mix.measured', { name: view.name }))) goInstead('fill', code);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('mix.measure.title')} sub={view.name} />
      <p>{t('mix.target', { p: percent(target) })}</p>
      <Percent label={t('field.batch_tested.found')} value={found} onChange={setFound} />
      <ChoiceGrid label={t('field.batch_tested.felt')} value={felt} onPick={setFelt} options={['no_drop', 'drop_or_two', 'runs'].map((v) => ({ value: v, name: t(`choice.felt.${v}`) }))} />
      {fix && 'wrong' in fix && <ErrorNote what={fix.wrong} />}
      {fix && 'ok' in fix && (
        <section class="card" aria-live="polite">
          <h2>{fix.ok.kind === 'none' ? t('mix.right') : fix.ok.kind === 'water' ? t('mix.add_water', { g: scale(fix.ok.g) }) : fix.ok.exact ? t('mix.add_dry', { g: scale(fix.ok.g) }) : t('mix.add_dry_some')}</h2>
          {fix.ok.parts.some(Boolean) && <ul class="list">{lines.map((l, i) => <li key={l.name + i}><div class="item-still"><span dir="auto">{l.name}</span><span class="qty">{scale(fix.ok.parts[i] ?? 0)}</span></div></li>)}</ul>}
          {fix.ok.kind !== 'none' && <button type="button" class="btn btn-first" onClick={() => void put(true)}>{t('mix.added')}</button>}
        </section>
      )}
      <button type="button" class="btn" disabled={found === null && !felt} onClick={() => void put(false)}>{t('mix.nothing_added')}</button>
      <a class="btn" href={to('fill', code)}>{t('mix.to_fill')}</a>
      <p class="note note-care"><span>{t('mix.warm')}</span></p>
    </main>
  );
}
