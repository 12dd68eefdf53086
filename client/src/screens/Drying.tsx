/** The drying test: wet, dry and tare of a few samples give a lot's or a mix's moisture, with how far repeats lie apart. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { drying, type Drying as Result, type Reading } from '../trade/drying';
import { number } from '../trade/units';
import { halfUp } from '../trade/whole';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { goInstead } from '../ui/route';
import { attempt, Beside, Findings } from './mixwords';
import { Head } from './parts';

/** Weighings as typed, in grams; `before` is the dry weighing before the last. */
interface Typed { wet: string; dry: string; tare: string; before: string }
const BLANK: Typed = { wet: '', dry: '', tare: '', before: '' };
const WEIGHINGS = ['tare', 'wet', 'before', 'dry'] as const;
const MOST = 12;

export interface Dried { method: string; readings: Reading[]; result: Result }

/** Grams as a kitchen or laboratory scale shows them, in 0.01 g; throws Unfit for what is no number. */
const hundredths = (text: string): number => halfUp(number(text).times(100));

function readingOf(x: Typed): Reading | null {
  if (!x.wet.trim() || !x.dry.trim()) return null;
  return {
    wet: hundredths(x.wet), dry: hundredths(x.dry), ...(x.tare.trim() ? { tare: hundredths(x.tare) } : {}),
    ...(x.before.trim() ? { dry_before: hundredths(x.before) } : {}),
  };
}

/** The form; `gypsum` is the share of the dry matter that is gypsum, in 0.01 %. */
export function DryingForm({ gypsum, onChange }: { gypsum: number; onChange: (dried: Dried | null) => void }) {
  const [method, setMethod] = useState<string | null>(null);
  const [rows, setRows] = useState<Typed[]>([BLANK, BLANK]);
  const sum = (typed: Typed[], how: string | null): { ok: Dried | null } | { wrong: string } => attempt(() => {
    const readings = typed.map(readingOf).filter((r) => r !== null);
    return readings.length && how ? { method: how, readings, result: drying(readings, gypsum) } : null;
  });
  const tell = (typed: Typed[], how: string | null): void => {
    const got = sum(typed, how);
    onChange('ok' in got ? got.ok : null);
  };
  const put = (i: number, part: Partial<Typed>): void => {
    const next = rows.map((r, at) => (at === i ? { ...r, ...part } : r));
    setRows(next);
    tell(next, method);
  };
  const made = sum(rows, method ?? 'oven');
  return (
    <div class="stack">
      <ChoiceGrid label={t('field.material_tested.method')} value={method} onPick={(v) => { setMethod(v); tell(rows, v); }} options={(['oven', 'microwave'] as const).map((v) => ({ value: v, name: t(`choice.method.${v}`) }))} />
      <Beside text={t(method === 'microwave' ? 'drying.care.microwave' : 'drying.care.oven')} kind="care" />
      <p class="small quiet">{t('drying.words')}</p>
      {rows.map((r, i) => (
        <fieldset class="card" key={i}><legend>{t('drying.sample', { n: i + 1 })}</legend>
          <div class="both">{WEIGHINGS.map((w) => (
            <label class="field" key={w}><span class="field-label">{t(`drying.${w}`)}</span>
              <span class="input-unit"><input class="input" inputMode="decimal" autoComplete="off" dir="ltr" aria-label={t('drying.of', { what: t(`drying.${w}`), n: i + 1 })} value={r[w]} onInput={(e) => put(i, { [w]: e.currentTarget.value })} /><span>g</span></span></label>
          ))}</div>
        </fieldset>
      ))}
      {rows.length < MOST && <button type="button" class="btn" onClick={() => setRows([...rows, BLANK])}>{t('drying.more')}</button>}
      {'wrong' in made && <ErrorNote what={made.wrong} />}
      {'ok' in made && made.ok && (
        <section class="card" aria-live="polite">
          <h2>{t('drying.found', { p: percent(made.ok.result.mean) })}</h2>
          {made.ok.result.each.length > 1 && <p>{t('drying.spread', { each: made.ok.result.each.map((x) => percent(x)).join(', '), spread: percent(made.ok.result.spread) })}</p>}
          {made.ok.result.each.length === 1 && <p class="quiet">{t('drying.once')}</p>}
          <Findings of={made.ok.result.findings} />
          {!method && <Beside text={t('drying.which')} />}
        </section>
      )}
    </div>
  );
}

/** A lot of a material is dried: its own moisture counts from now on. */
export function DryLot({ code }: { code: string }) {
  const [dried, setDried] = useState<Dried | null>(null);
  const row = app().ref.value.materials[code];
  if (!row) return <main class="screen" id="main"><Head title={t('drying.title')} /><ErrorNote what={t('material.unknown')} todo={t('unknown.entry.todo')} /></main>;
  const name = String(row.name ?? '');
  const keep = async (): Promise<void> => {
    if (!dried) return;
    const done = await save([{ ty: 'material.tested', sub: [code], d: {
      moisture: dried.result.mean, spread: dried.result.spread, method: dried.method, readings: dried.readings,
    } }], t('drying.saved', { name, p: percent(dried.result.mean) }));
    if (done) goInstead('setup', 'materials', code);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('drying.title')} sub={name} />
      <DryingForm gypsum={/gyps/i.test(name) ? 10_000 : 0} onChange={setDried} />
      <button type="button" class="btn btn-first" disabled={!dried} onClick={() => void keep()}>{t('setup.save')}</button>
    </main>
  );
}
