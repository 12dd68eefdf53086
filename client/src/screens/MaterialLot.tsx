/** A lot that came in: what it is, what it weighs and costs, what is known of it, and what is declared of it. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { dayAge, percent } from '../i18n/format';
import { refuse } from '../trade/carbide';
import { ofAmounts, ofNitrogen } from '../trade/cautions';
import { app } from '../ui/app';
import { save, saving } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { HappenedEarlier } from '../ui/Happened';
import { ErrorNote } from '../ui/Notes';
import { back, to } from '../ui/route';
import { textWrong } from '../ui/validate';
import type { Happened } from '../app-types';
import { known } from './mixdata';
import { Refused } from './MixRows';
import { tableRow } from './mixtable';
import { Amount, Beside, exact, Findings, Money, Percent, scale, UnitSwitch } from './mixwords';
import { Head } from './parts';

/** The three that substrates bring in; others are written out. */
export const ALLERGENS = ['wheat', 'soy', 'barley'] as const;
const isKnown = (word: string): boolean => (ALLERGENS as readonly string[]).includes(word);
export const allergenWords = (text: string): string =>
  text.split(/,\s*/).filter(Boolean).map((w) => (isKnown(w) ? t(`allergen.${w}`) : w)).join(', ');

const LONGEST = { name: 60, supplier: 80, organic: 80, allergens: 120 } as const;
const PERCENTS = ['moisture', 'c', 'n'] as const;
/** A name that says one of them brings it in: shown as a question, never set by itself. */
const NAMED: Record<string, RegExp> = { wheat: /wheat|trigo|小麦|lúa mì/i, soy: /soy|soja|大豆|đậu nành/i, barley: /barley|cebada|大麦|lúa mạch/i };

export function MaterialLot({ code }: { code: string }) {
  const row = code === 'new' ? undefined : app().ref.value.materials[code];
  const text = (f: string): string => (typeof row?.[f] === 'string' ? row[f] : '');
  const int = (f: string): number | null => (typeof row?.[f] === 'number' ? row[f] : null);
  const [name, setName] = useState(text('name'));
  const [words, setWords] = useState({ supplier: text('supplier'), organic: text('organic'), other: text('allergens').split(/,\s*/).filter((w) => w && !isKnown(w)).join(', ') });
  const [has, setHas] = useState<string[]>(text('allergens').split(/,\s*/).filter(isKnown));
  const [n, setN] = useState<Record<string, number | null>>({
    mass_g: int('mass_g'), moisture: int('moisture'), c: int('c'), n: int('n'), bulk_g_l: int('bulk_g_l'), swell: int('swell'), price_minor: int('price_minor'), price_g: int('price_g'),
  });
  const [flags, setFlags] = useState({ untreated: row?.['untreated'] === true, wood: row?.['wood'] === true });
  const [grade, setGrade] = useState<string | null>(text('grade') || null);
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const [tried, setTried] = useState(false);
  const table = tableRow(name);
  const wood = flags.wood || Boolean(table?.wood);
  const put = (f: string) => (x: number | null): void => setN((old) => ({ ...old, [f]: x }));
  const best = known(app().ref.value.materials, name, 'moisture');
  const typed = PERCENTS.some((f) => n[f] !== null) || n['bulk_g_l'] !== null;
  const allergens = [...has, ...words.other.split(/,\s*/).filter(Boolean)].join(', ');
  const wrong = [
    name.trim() ? textWrong(name, LONGEST.name, t('field.material_received.name')) : t('field.missing', { field: t('field.material_received.name') }),
    ...(['supplier', 'organic'] as const).map((f) => textWrong(words[f], LONGEST[f], t(`field.material_received.${f}`))),
    textWrong(allergens, LONGEST.allergens, t('field.material_received.allergens')),
    ...PERCENTS.map((f) => ((n[f] ?? 0) > 9_999 ? t('material.over_100', { field: t(`field.material_received.${f}`) }) : null)),
    typed && !grade ? t('material.grade') : null,
    n['price_minor'] !== null && n['price_g'] === null && n['mass_g'] === null ? t('unfit.price_range', { name }) : null,
  ].filter((x): x is string => Boolean(x));
  const keep = async (): Promise<void> => {
    setTried(true);
    if (wrong.length || refuse(name) || at === 'future') return;
    const figures = Object.fromEntries(Object.entries(n).filter(([, x]) => x !== null));
    const done = await save([{ ty: 'material.received', sub: [row ? code : 'material'], d: {
      name: name.trim(), ...figures, ...(words.supplier.trim() ? { supplier: words.supplier.trim() } : {}), ...(words.organic.trim() ? { organic: words.organic.trim() } : {}),
      ...(allergens || row?.['allergens'] ? { allergens } : {}), ...(wood ? { untreated: flags.untreated, wood: true } : {}), ...(grade ? { grade } : {}), ...(at ? { was: at } : {}),
    } }], t('setup.saved', { name: name.trim() }));
    if (done) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={row ? String(row.name) : t('setup.materials.add')} sub={row && typeof row['made'] === 'number' ? dayAge(row['made']) : undefined} />
      {row && <Store code={code} />}
      <UnitSwitch />
      <datalist id="materials">{[...new Set(Object.values(app().ref.value.materials).map((m) => String(m.name ?? '')))].map((x) => <option key={x} value={x} />)}</datalist>
      <label class="field"><span class="field-label">{t('field.material_received.name')}</span>
        <input class="input" dir="auto" list="materials" maxLength={LONGEST.name} value={name} onInput={(e) => setName(e.currentTarget.value)} /></label>
      <Refused name={name} />
      <Findings of={ofAmounts([[name, n['mass_g'] ?? 0]])} />
      <Amount label={t('field.material_received.mass_g')} quantity="mass" value={n['mass_g'] ?? null} onChange={put('mass_g')} />
      <Percent label={t('field.material_received.moisture')} value={n['moisture'] ?? null} onChange={put('moisture')} />
      {n['moisture'] === null && <p class="small quiet">{best ? t('mix.known', { p: percent(best.value), grade: t(`choice.grade.${best.grade}`) }) : t('mix.unknown')}</p>}
      <label class="field"><span class="field-label">{t('field.material_received.supplier')}</span>
        <input class="input" dir="auto" maxLength={LONGEST.supplier} value={words.supplier} onInput={(e) => setWords({ ...words, supplier: e.currentTarget.value })} /></label>
      {!table?.wood && <button type="button" class="choice" aria-pressed={flags.wood} onClick={() => setFlags({ ...flags, wood: !flags.wood })}>{t('field.material_received.wood')}</button>}
      {wood && <button type="button" class="choice" aria-pressed={flags.untreated} onClick={() => setFlags({ ...flags, untreated: !flags.untreated })}>{t('field.material_received.untreated')}</button>}
      {wood && !flags.untreated && <Beside text={t('material.untreated')} />}
      <label class="field"><span class="field-label">{t('field.material_received.organic')}</span><span class="hint">{t('material.organic.hint')}</span>
        <input class="input" dir="auto" maxLength={LONGEST.organic} value={words.organic} onInput={(e) => setWords({ ...words, organic: e.currentTarget.value })} /></label>
      <fieldset class="stack-close"><legend>{t('field.material_received.allergens')}</legend>
        <div class="choices">{ALLERGENS.map((a) => <button type="button" key={a} class="choice" aria-pressed={has.includes(a)} onClick={() => setHas(has.includes(a) ? has.filter((x) => x !== a) : [...has, a])}>{t(`allergen.${a}`)}</button>)}</div>
        {ALLERGENS.filter((a) => NAMED[a]?.test(name) && !has.includes(a)).map((a) => <Beside key={a} text={t('material.allergen_named', { name, allergen: t(`allergen.${a}`) })} />)}
        <label class="field"><span class="field-label">{t('material.allergen_other')}</span>
          <input class="input" dir="auto" value={words.other} onInput={(e) => setWords({ ...words, other: e.currentTarget.value })} /></label>
      </fieldset>
      <div class="both">
        <Money label={t('field.material_received.price_minor')} value={n['price_minor'] ?? null} onChange={put('price_minor')} />
        <Amount label={t('field.material_received.price_g')} hint={t('material.price_g.hint')} quantity="mass" value={n['price_g'] ?? null} onChange={put('price_g')} />
      </div>
      <details class="card" open={row !== undefined && typed}><summary>{t('material.figures')}</summary>
        <Percent label={t('field.material_received.c')} value={n['c'] ?? null} onChange={put('c')} />
        <Percent label={t('field.material_received.n')} value={n['n'] ?? null} onChange={put('n')} />
        {n['n'] !== null && <Findings of={ofNitrogen(name, n['n'] ?? 0)} />}
        <Amount label={t('field.material_received.bulk_g_l')} quantity="density" value={n['bulk_g_l'] ?? null} onChange={put('bulk_g_l')} />
        <Percent label={t('field.material_received.swell')} value={n['swell'] === null ? null : (n['swell'] ?? 0) * 100} onChange={(x) => put('swell')(x === null ? null : Math.round(x / 100))} />
      </details>
      {typed && <ChoiceGrid label={t('field.material_received.grade')} value={grade} onPick={setGrade} options={(['measured', 'supplier', 'table', 'memory'] as const).map((g) => ({ value: g, name: t(`choice.grade.${g}`) }))} />}
      <HappenedEarlier onChange={setAt} />
      {tried && wrong.map((w) => <p class="wrong" role="alert" key={w}>{w}</p>)}
      <button type="button" class="btn btn-first" disabled={saving.value || at === 'future'} onClick={() => void keep()}>{t('setup.save')}</button>
    </main>
  );
}

/** What is left of a lot, its last drying test, and the count put right: a correction is signed and said why. */
function Store({ code }: { code: string }) {
  const row = app().ref.value.materials[code] ?? {};
  const left = typeof row['left_g'] === 'number' ? row['left_g'] : null;
  const [open, setOpen] = useState(false);
  const [real, setReal] = useState<number | null>(null);
  const [why, setWhy] = useState('');
  const readings = (row['readings'] ?? []) as unknown[];
  const keep = async (): Promise<void> => {
    if (real === null || left === null || real === left) return;
    const done = await save([{ ty: 'material.taken', sub: [code], d: { g: left - real, ...(why.trim() ? { why: why.trim().slice(0, 200) } : {}) } }], t('material.corrected', { g: scale(real) }));
    if (done) setOpen(false);
  };
  return (
    <section class="card">
      {left !== null && <p><span class="quiet">{t('material.left')}</span> <b class="num">{exact(left)}</b></p>}
      {left !== null && left < 0 && <ErrorNote what={t('material.below')} />}
      {typeof row['moisture'] === 'number' && <p class="small">{t(row['method'] ? 'material.moisture.tested' : 'material.moisture', { p: percent(row['moisture']), n: readings.length, spread: percent(Number(row['spread'] ?? 0)), method: row['method'] ? t(`choice.method.${String(row['method'])}`) : '' })}</p>}
      {Boolean(row['allergens']) && <p class="small">{t('field.material_received.allergens')}: <b>{allergenWords(String(row['allergens']))}</b></p>}
      <a class="btn" href={to('dry', code)}>{t('act.material_tested')}</a>
      {left !== null && !open && <button type="button" class="btn" onClick={() => { setReal(null); setOpen(true); }}>{t('act.material_taken')}</button>}
      {open && (
        <>
          <Amount label={t('material.real')} quantity="mass" value={real} onChange={setReal} />
          <label class="field"><span class="field-label">{t('field.material_taken.why')}</span><input class="input" dir="auto" value={why} onInput={(e) => setWhy(e.currentTarget.value)} /></label>
          <button type="button" class="btn" disabled={real === null || real === left} onClick={() => void keep()}>{t('material.correct')}</button>
        </>
      )}
    </section>
  );
}
