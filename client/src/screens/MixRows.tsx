/** What goes into a mix: names and amounts on a named basis, said on every other basis, with what is wrong or needs care. */
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { refuse } from '../trade/carbide';
import { ratio } from '../trade/carbon';
import { ofAmounts, ofNitrogen } from '../trade/cautions';
import type { Finding } from '../trade/findings';
import { BASES, checkSum, everyBasis, type Basis } from '../trade/recipe';
import type { Ingredient } from '../trade/stock';
import { app } from '../ui/app';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { contents, ingredient, known, type Row, type Said } from './mixdata';
import { tableRow } from './mixtable';
import { Amount, attempt, Beside, Findings, Percent } from './mixwords';

const PPM = 1_000_000;
/** Minerals that substrate takes in a few per cent; what is like them in name is refused above. */
const MINERALS = ['gypsum', 'chalk'] as const;

export interface Mix {
  rows: Row[];
  basis: Basis | null;
  said: Said;
}

/** What the rows come to: the ingredients, and why they cannot be a recipe yet. */
export interface Read {
  parts: Ingredient[];
  ready: boolean;
  base: 'sawdust' | 'straw';
}

export const EMPTY: Mix = { rows: [{ name: '', amount: null, wood: true }, { name: '', amount: null, wood: false }], basis: null, said: 'percent' };

/** Reads the rows for the sums. Nothing is ready that holds carbide, or whose percentages do not add up. */
export function readMix({ rows, basis, said }: Mix): Read {
  const filled = rows.filter((r) => r.name.trim() && r.amount);
  const parts = filled.map((r) => ingredient(app().ref.value.materials, r));
  const base = filled.some((r) => tableRow(r.name)?.words.includes('straw')) && !filled.some((r) => r.wood) ? 'straw' : 'sawdust';
  const sums = basis ? attempt(() => (said === 'grams' ? [] : checkSum(basis, parts, PPM))) : null;
  const ready = Boolean(basis && parts.length && !rows.some((r) => refuse(r.name)) && sums && 'ok' in sums && !sums.ok.some((f) => f.level === 'refuse'));
  return { parts, ready, base };
}

/** A refused name, and what was likely meant. */
export function Refused({ name }: { name: string }) {
  const found = refuse(name);
  return found && <ErrorNote what={t('finding.carbide', { about: found.name })} todo={t(`mix.meant.${found.meant[0]}`)} />;
}

export function MixRows({ mix, onChange, again }: { mix: Mix; onChange: (mix: Mix) => void; again?: string }) {
  const { rows, basis, said } = mix;
  const materials = app().ref.value.materials;
  const names = [...new Set(Object.values(materials).map((m) => String(m.name ?? '')).filter(Boolean))].sort();
  const change = (i: number, part: Partial<Row>): void => onChange({ ...mix, rows: rows.map((r, at) => (at === i ? { ...r, ...part } : r)) });
  const parts = readMix(mix).parts;
  const sums = basis && said === 'percent' && parts.length ? attempt(() => checkSum(basis, parts, PPM)) : null;
  const care: Finding[] = ofAmounts(rows.map((r) => [r.name, 0] as const));
  return (
    <>
      <ChoiceGrid label={t('field.recipe_written.said')} value={said} onPick={(v) => onChange({ ...mix, said: v as Said, basis: v === 'grams' ? 'of_total_weighed' : basis, rows: rows.map((r) => ({ ...r, amount: null })) })}
        options={(['percent', 'grams'] as const).map((v) => ({ value: v, name: t(`choice.said.${v}`) }))} />
      {said === 'percent' && <ChoiceGrid label={t('field.recipe_written.basis')} value={basis} onPick={(v) => onChange({ ...mix, basis: v as Basis })} options={BASES.map((b) => ({ value: b, name: t(`choice.basis.${b}`), about: t(`choice.basis.${b}.about`) }))} />}
      <datalist id="ingredients">{names.map((n) => <option key={n} value={n} />)}</datalist>
      <fieldset class="stack-close" key={(again ?? '') + said}><legend>{t('mix.ingredients')}</legend>
        {rows.map((r, i) => (
          <div class="card" key={i}>
            <input class="input" dir="auto" list="ingredients" maxLength={60} aria-label={t('parts.name', { n: i + 1 })} value={r.name} placeholder={t('parts.name', { n: i + 1 })}
              onInput={(e) => change(i, { name: e.currentTarget.value, wood: tableRow(e.currentTarget.value)?.wood ?? r.wood })} />
            <Refused name={r.name} />
            {said === 'grams'
              ? <Amount label={t('mix.amount.g', { n: i + 1 })} quantity="mass" value={r.amount} onChange={(amount) => change(i, { amount })} />
              : <Percent label={t('mix.amount', { n: i + 1 })} digits={4} value={r.amount} onChange={(amount) => change(i, { amount })} />}
            <button type="button" class="choice" aria-pressed={r.wood} onClick={() => change(i, { wood: !r.wood })}>{t('mix.wood')}</button>
            <Said name={r.name} />
          </div>
        ))}
        <div class="row">
          <button type="button" class="btn" onClick={() => onChange({ ...mix, rows: [...rows, { name: '', amount: null, wood: false }] })}>{t('parts.more')}</button>
          {MINERALS.map((m) => <button type="button" class="btn" key={m} onClick={() => onChange({ ...mix, rows: [...rows.filter((r) => r.name.trim() || r.amount), { name: t(`mix.mineral.${m}`), amount: null, wood: false }] })}>{t(`mix.mineral.${m}`)}</button>)}
        </div>
      </fieldset>
      {sums && 'ok' in sums && <Findings of={sums.ok.map((f) => ({ ...f, values: { ...f.values, sum: `${Number(f.values['sum']) / 10_000} %` } }))} />}
      {sums && 'ok' in sums && sums.ok.some((f) => f.values['likely'] === 'per_wood') && <Beside text={t('mix.likely_per_wood')} />}
      {sums && 'ok' in sums && !sums.ok.length && <p class="small quiet">{t('mix.adds_up')}</p>}
      {sums && 'wrong' in sums && <ErrorNote what={sums.wrong} />}
      {!basis && parts.length > 0 && <Beside text={t('unfit.basis_unknown')} />}
      <Findings of={care} />
    </>
  );
}

/** What is known of an ingredient, and where from. */
function Said({ name }: { name: string }) {
  if (!name.trim() || refuse(name)) return null;
  const moisture = known(app().ref.value.materials, name, 'moisture');
  return <p class="small quiet">{moisture ? t('mix.known', { p: percent(moisture.value), grade: t(`choice.grade.${moisture.grade}`) }) : t('mix.unknown')}</p>;
}

/** Every basis side by side, and C:N with its range. */
export function Bases({ basis, parts, open }: { basis: Basis; parts: Ingredient[]; open?: boolean }) {
  const every = attempt(() => everyBasis(basis, parts));
  if ('wrong' in every) return <ErrorNote what={every.wrong} />;
  const found = parts.map((p) => contents(app().ref.value.materials, p.name));
  const dry = every.ok.of_total_dry ?? [];
  const unknown = parts.filter((_, i) => !found[i] && dry[i]).map((p) => p.name);
  const cn = unknown.length ? null : attempt(() => ratio(found.map((x, i) => ({ dry: dry[i] ?? 0, c: x?.c ?? [0, 0, 0], n: x?.n ?? [0, 0, 0] }))));
  const one = (x: number | null): string => (x === null ? '∞' : String(Math.round(x / 100)));
  return (
    <>
      <details class="card" open={open ?? false}><summary>{t('mix.bases')}</summary>
        <div class="tablewrap" tabIndex={0}><table>
          <thead><tr><th>{t('mix.ingredient')}</th>{Object.keys(every.ok).map((b) => <th class="num" key={b}>{t(`choice.basis.${b}`)}</th>)}</tr></thead>
          <tbody>{parts.map((p, i) => <tr key={p.name}><td dir="auto">{p.name}</td>{Object.entries(every.ok).map(([b, list]) => <td class="num" key={b}>{percent(list?.[i] ?? 0)}</td>)}</tr>)}</tbody>
        </table></div>
        {cn && 'ok' in cn && <p>{t('mix.cn', { likely: one(cn.ok.likely), low: one(cn.ok.low), high: one(cn.ok.high), n: percent(cn.ok.n) })}</p>}
        {cn && 'ok' in cn && <p class="small quiet">{found.map((x, i) => (x && dry[i] ? `${parts[i]?.name}: ${t(`choice.grade.${x.grade}`)}` : '')).filter(Boolean).join(' · ')}</p>}
        {unknown.length > 0 && <p class="small quiet">{t('mix.cn.unknown', { names: unknown.join(', ') })}</p>}
      </details>
      {parts.map((p, i) => <Findings key={p.name} of={found[i] ? ofNitrogen(p.name, found[i]?.n[1] ?? 0) : []} />)}
    </>
  );
}
