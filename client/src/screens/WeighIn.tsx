/** Weighing in: tick each ingredient with what the scale shows; the water follows from what was really weighed. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { correct, fromSqueeze } from '../trade/correct';
import { ofAmounts, ofMixer } from '../trade/cautions';
import { dryPerBag, TOLERANCE } from '../trade/weigh';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { useAnswer } from '../ui/load';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import { Pdf } from '../ui/Pdf';
import { goInstead, to } from '../ui/route';
import { dealt, fitted, isDone, ofAll, ofCharge, type PlanLine, type Share, type Ticks } from './charges';
import { DryingForm, type Dried } from './Drying';
import { sheetOf } from './mixsheet';
import { Amount, attempt, Findings, Percent, scale, UnitSwitch } from './mixwords';
import { Head, Loading } from './parts';

const KEY = 'bagtrail.weigh.';

/** What was ticked so far survives a reload or a dead battery: it is not yet a record. */
function kept(plan: string): Ticks[] | null {
  try {
    const found = JSON.parse(localStorage.getItem(KEY + plan) ?? 'null') as unknown;
    return Array.isArray(found) ? (found as Ticks[]) : null;
  } catch {
    return null;
  }
}

/** Per charge: tick each ingredient with what the scale shows; the water follows from what was really weighed. */
export function Weigh({ code }: { code: string }) {
  const row = app().ref.value.plans[code];
  const lines = (row?.['lines'] ?? []) as PlanLine[];
  const n = Math.max(1, Number(row?.['charges'] ?? 1));
  const [typed, setTyped] = useState<Ticks[] | null>(() => kept(code));
  const [at, setAt] = useState(() => Math.max(0, fitted(kept(code), lines.length, n).findIndex((t) => !isDone(t))));
  // A figure put in by the button is shown in its field, which otherwise keeps what was typed.
  const [taps, setTaps] = useState(0);
  if (!row) return <main class="screen" id="main"><Head title={t('mix.weigh.title')} /><ErrorNote what={t('mix.no_plan')} todo={t('unknown.entry.todo')} /></main>;
  const target = Number(row['target']);
  const tolerance = Number(app().ref.value.settings['tolerance'] ?? TOLERANCE);
  const ticks = fitted(typed, lines.length, n);
  const shares = dealt(lines, Number(row['water_g'] ?? 0), n);
  const [now, share] = [ticks[at] as Ticks, shares[at] as Share];
  const remember = (next: Ticks, tapped = false): void => {
    const list = ticks.map((x, i) => (i === at ? next : x));
    setTyped(list);
    if (tapped) setTaps(taps + 1);
    try {
      localStorage.setItem(KEY + code, JSON.stringify(list));
    } catch {
      // No room or barred: the figures stay on screen until they are saved.
    }
  };
  const put = (i: number, x: number | null, tapped = false): void => remember({ ...now, g: now.g.map((g, j) => (j === i ? x : g)) }, tapped);
  const sum = attempt(() => ofCharge(lines, share, now, target, tolerance));
  const ready = ticks.every(isDone);
  const whole = ready ? attempt(() => ofAll(lines, ticks, target, tolerance)) : null;
  const batch = String(row['batch']);
  const finish = async (): Promise<void> => {
    if (!whole || !('ok' in whole)) return;
    const { g, water_g: water, mix } = whole.ok;
    // Two lots of one ingredient are one part of the mix.
    const parts = new Map<string, number>();
    lines.forEach((l, i) => parts.set(l.name, (parts.get(l.name) ?? 0) + (mix.shares[i] ?? 0)));
    const done = await save([
      { ty: 'batch.mixed', sub: [batch], d: {
        name: String(row.name), plan: code, target, moisture: mix.moisture, wet_g: mix.total_g, dry_g: mix.dry_g, water_g: water,
        parts: [...parts].map(([name, part]) => ({ name, share: part })).filter((p) => p.share > 0).slice(0, 20),
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
  const most = lines.map((_, i) => Math.max(...shares.map((s) => s.g[i] ?? 0)));
  return (
    <main class="screen" id="main">
      <Head title={t('mix.weigh.title')} sub={String(row.name)} />
      <UnitSwitch />
      {n > 1 && (
        <div class="choices" role="group" aria-label={t('mix.charges')}>
          {ticks.map((x, i) => <button type="button" key={i} class="choice" aria-pressed={i === at} onClick={() => { setAt(i); setTaps(taps + 1); }}>{t('mix.charge.n', { n: i + 1 })}{isDone(x) ? ' ✓' : ''}</button>)}
        </div>
      )}
      <Findings of={[...ofAmounts(lines.map((l, i) => [l.name, most[i] ?? 0] as const)), ...ofMixer(app().ref.value.settings['rotating'] === true)]} />
      {lines.map((l, i) => (
        <section class="card" key={`${at}-${i}`}>
          <h2><span dir="auto">{l.name}</span><span aria-hidden="true">{now.g[i] === null ? '' : '✓'}</span></h2>
          <p class="weigh-figure">{scale(share.g[i] ?? 0)}</p>
          <button type="button" class="btn" onClick={() => put(i, share.g[i] ?? 0, true)}>{t('mix.exact')}</button>
          <Amount key={`${i}-${taps}`} label={t('mix.scale_shows', { name: l.name })} quantity="mass" value={now.g[i] ?? null} onChange={(x) => put(i, x)} />
        </section>
      ))}
      {'wrong' in sum && <ErrorNote what={sum.wrong} />}
      {'ok' in sum && (
        <>
          <Findings of={sum.ok.findings} />
          <section class="card">
            <h2><span>{t('mix.water')}</span><span aria-hidden="true">{now.water === null ? '' : '✓'}</span></h2>
            <p class="weigh-figure" aria-live="polite">{scale(sum.ok.water_g)}</p>
            <p class="small quiet">{t('mix.water.why', { p: percent(target) })}</p>
            <button type="button" class="btn" onClick={() => remember({ ...now, water: 'ok' in sum ? sum.ok.water_g : null }, true)}>{t('mix.exact')}</button>
            <Amount key={`w-${at}-${taps}`} label={t('mix.scale_shows', { name: t('mix.water') })} quantity="mass" value={now.water} onChange={(x) => remember({ ...now, water: x })} />
          </section>
          <dl class="facts">
            <dt>{t('mix.total')}</dt><dd>{scale(sum.ok.total_g)}</dd>
            <dt>{t('mix.moisture')}</dt><dd>{t('mix.wb', { p: percent(sum.ok.moisture) })}</dd>
            {Boolean(row['fill_g']) && <><dt>{t('mix.dry_bag')}</dt><dd>{scale(dryPerBag(Number(row['fill_g']), sum.ok.moisture))}</dd></>}
          </dl>
        </>
      )}
      {isDone(now) && !ready && <button type="button" class="btn btn-first" onClick={() => { setAt(ticks.findIndex((x) => !isDone(x))); setTaps(taps + 1); window.scrollTo(0, 0); }}>{t('mix.next_charge')}</button>}
      {n > 1 && whole && 'ok' in whole && (
        <dl class="facts"><dt>{t('mix.all_charges')}</dt><dd>{scale(whole.ok.mix.total_g)} · {t('mix.wb', { p: percent(whole.ok.mix.moisture) })}</dd></dl>
      )}
      {(ready || n === 1) && <button type="button" class="btn btn-first" disabled={!ready} onClick={() => void finish()}>{t('mix.done')}</button>}
      {!ready && <p class="quiet">{t('mix.not_done')}</p>}
      <Pdf title={t('sheet.title')} about={t('sheet.about')} name="mix-sheet" make={() => app().paper('mix-sheet', sheetOf(row))} />
    </main>
  );
}

/** After mixing: a measured moisture or a squeeze, and what to add for it. */
export function Measure({ code }: { code: string }) {
  const view = useAnswer(() => app().batch(code), [code]);
  const records = useAnswer(() => app().records(500), []);
  const [felt, setFelt] = useState<string | null>(null);
  const [dried, setDried] = useState<Dried | null>(null);
  const [typed, setTyped] = useState<number | null>(null);
  if (view === undefined || records === undefined) return <main class="screen" id="main"><Loading /></main>;
  const mix = records?.find(({ line, voided }) => !voided && line.k === 'batch.mixed' && line.s[0] === code)?.line.d;
  if (!view || !mix) return <main class="screen" id="main"><Head title={t('mix.measure.title')} /><ErrorNote what={t('batch.unknown')} todo={t('unknown.entry.todo')} /></main>;
  const wet = Number(mix['wet_g'] ?? 0);
  const target = Number(mix['target'] ?? mix['moisture'] ?? 0);
  const lines = (mix['lines'] ?? []) as { name: string; lot?: string; g: number; moisture: number }[];
  const parts = (mix['parts'] ?? []) as { name: string; share: number }[];
  const gypsum = parts.reduce((sum, p) => sum + (/gyps/i.test(p.name) ? p.share : 0), 0);
  const found = dried ? dried.result.mean : typed;
  const fix = found !== null && wet ? attempt(() => correct(wet, found, target, lines.map((l) => [Math.max(0, Math.round(l.g * (1 - l.moisture / 10_000))), l.moisture] as const)))
    : felt && wet ? attempt(() => fromSqueeze(wet, felt)) : null;
  const put = async (added: boolean): Promise<void> => {
    const c = fix && 'ok' in fix ? fix.ok : null;
    const d = { ...(found !== null ? { found } : {}), ...(dried ? { method: dried.method, readings: dried.readings } : typed !== null ? { method: 'meter' } : {}), ...(felt ? { felt } : {}),
      ...(added && c?.kind === 'water' ? { added_water_g: c.g } : {}), ...(added && c?.kind === 'dry_mix' ? { added_mix_g: c.g } : {}),
      ...(added && c?.moisture != null ? { moisture: c.moisture } : found !== null ? { moisture: found } : {}), wet_g: added && c ? c.total_g : wet };
    // Dry mix comes out of the same lots as the mix did.
    const taken = added && c?.kind === 'dry_mix'
      ? lines.flatMap((l, i) => (l.lot && c.parts[i] ? [{ ty: 'material.taken', sub: [l.lot], d: { g: c.parts[i], batch: code } }] : [])) : [];
    if (await save([{ ty: 'batch.tested', sub: [code], d }, ...taken], t('mix.measured', { name: view.name }))) goInstead('fill', code);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('mix.measure.title')} sub={view.name} />
      <p>{t('mix.target', { p: percent(target) })}</p>
      <details class="card"><summary>{t('act.material_tested')}</summary><DryingForm gypsum={gypsum} onChange={setDried} /></details>
      {!dried && <Percent label={t('field.batch_tested.found')} value={typed} onChange={setTyped} />}
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
      <p class="note note-care"><Mark kind="care" size={24} /><span>{t('mix.warm')}</span></p>
    </main>
  );
}
