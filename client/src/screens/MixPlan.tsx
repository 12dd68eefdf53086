/** Plans a batch from any one wish: what to weigh, the water, the charges, what it costs and what is short. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { refuse } from '../trade/carbide';
import { ratio } from '../trade/carbon';
import { ofMixer, ofNitrogen } from '../trade/cautions';
import { perBag } from '../trade/perBag';
import { plan, type Plan, type Wish } from '../trade/plan';
import { BASES, checkSum, everyBasis, type Basis } from '../trade/recipe';
import type { Ingredient, Lot } from '../trade/stock';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { RecipePicker } from '../ui/Pick';
import { goInstead } from '../ui/route';
import { Amount, attempt, Findings, Percent, scale, tell, UnitSwitch } from './mixwords';
import { tableRow } from './mixtable';
import { Head } from './parts';

interface Row { name: string; amount: number | null; wood: boolean }
type WishKind = Wish['kind'];
const PPM = 1_000_000;

/** Lots of a name that hold something, oldest first; null where its store is not kept. */
function lotsOf(name: string): Lot[] | null {
  const own = Object.entries(app().ref.value.materials)
    .filter(([, m]) => String(m.name ?? '').trim().toLowerCase() === name.trim().toLowerCase() && typeof m['left_g'] === 'number')
    .sort((a, b) => Number(a[1]['made']) - Number(b[1]['made']));
  if (!own.length) return null;
  return own.filter(([, m]) => Number(m['left_g']) > 0).map(([code, m]) => ({
    code, mass_g: Number(m['left_g']), moisture: Number(m['moisture'] ?? tableRow(name)?.moisture ?? 0),
    price_minor: typeof m['price_minor'] === 'number' ? m['price_minor'] : null, price_g: Number(m['price_g'] ?? m['mass_g'] ?? 1_000),
  }));
}

/** The farm's own figures win over the table's. */
function own(name: string, field: string): number | undefined {
  const rows = Object.values(app().ref.value.materials)
    .filter((m) => String(m.name ?? '').trim().toLowerCase() === name.trim().toLowerCase() && typeof m[field] === 'number');
  return rows.length ? Number(rows.sort((a, b) => Number(b['made']) - Number(a['made']))[0]?.[field]) : undefined;
}

function ingredient(row: Row): Ingredient {
  const table = tableRow(row.name);
  return {
    name: row.name.trim(), amount: row.amount ?? 0, wood: row.wood, moisture: own(row.name, 'moisture') ?? table?.moisture ?? 0, lots: lotsOf(row.name),
    bulk_g_l: own(row.name, 'bulk_g_l') ?? table?.bulk_g_l ?? null, swell: own(row.name, 'swell') ?? table?.swell ?? 100,
  };
}

function rowsOf(recipe: Record<string, unknown>): Row[] {
  const amounts = recipe['amounts'] as { name: string; amount: number; wood?: boolean }[] | undefined;
  if (amounts?.length && recipe['said'] !== 'grams') return amounts.map((a) => ({ name: a.name, amount: a.amount, wood: a.wood ?? tableRow(a.name)?.wood ?? false }));
  return ((recipe['parts'] ?? []) as { name: string; share: number }[]).map((p) => ({ name: p.name, amount: p.share * 100, wood: tableRow(p.name)?.wood ?? false }));
}

export function MixPlan() {
  const settings = app().ref.value.settings;
  const setting = (name: string): number | null => (typeof settings[name] === 'number' ? Number(settings[name]) : null);
  const [rows, setRows] = useState<Row[]>([{ name: '', amount: null, wood: true }, { name: '', amount: null, wood: false }]);
  const [recipe, setRecipe] = useState<string | null>(null);
  const [basis, setBasis] = useState<Basis | null>(null);
  const [target, setTarget] = useState<number | null>(6_000);
  const [kind, setKind] = useState<WishKind>('bags');
  const [count, setCount] = useState('');
  const [wet, setWet] = useState<number | null>(null);
  const [all, setAll] = useState('');
  const [fill, setFill] = useState<number | null>(setting('fill_g'));
  const [loss, setLoss] = useState<number | null>(setting('loss_g'));
  const [mixerG, setMixerG] = useState<number | null>(setting('mixer_g'));
  const [mixerMl, setMixerMl] = useState<number | null>(setting('mixer_ml'));
  const [name] = useState(() => app().newName());

  const pick = (code: string): void => {
    const found = app().ref.value.recipes[code];
    setRecipe(code || null);
    if (!found) return;
    setRows(rowsOf(found));
    setBasis((found['basis'] as Basis | undefined) ?? 'of_total_dry');
    if (typeof found['moisture'] === 'number') setTarget(found['moisture']);
  };
  const change = (i: number, part: Partial<Row>): void => setRows(rows.map((r, at) => (at === i ? { ...r, ...part } : r)));
  const filled = rows.filter((r) => r.name.trim() && r.amount);
  const refused = rows.map((r) => refuse(r.name)).find(Boolean);
  const parts = filled.map(ingredient);
  const wish: Wish | null = kind === 'all_of' ? (all ? { kind, name: all } : null)
    : kind === 'wet' ? (wet ? { kind, g: wet } : null)
      : /^[1-9]\d{0,5}$/.test(count.trim()) ? { kind, n: Number(count) } : null;
  const ready = basis && target !== null && filled.length > 0 && !refused;
  const base = filled.some((r) => tableRow(r.name)?.words.includes('straw')) && !filled.some((r) => r.wood) ? 'straw' : 'sawdust';
  const sums = ready ? attempt(() => checkSum(basis, parts, PPM)) : null;
  const blocked = sums && 'ok' in sums && sums.ok.some((f) => f.level === 'refuse');
  const made = ready && wish && !blocked
    ? attempt(() => plan(parts, basis, target, wish, { fill_g: fill, loss_g: loss ?? 0, mixer: mixerG ? { g: mixerG, ml: mixerMl } : null, bag_minor: setting('bag_minor') ?? 0, base }))
    : null;
  const keep = async (p: Plan): Promise<void> => {
    const batch = app().newCode('M');
    const lines = await save([{ ty: 'mix.planned', sub: ['plan'], d: {
      name, batch, target: target ?? 0, water_g: p.water_g, charges: p.charges.length, basis, said: 'percent', base,
      ...(recipe ? { recipe, recipe_name: app().ref.value.recipes[recipe]?.name ?? '' } : {}),
      ...(p.bags ? { n: p.bags } : {}), ...(fill ? { fill_g: fill } : {}),
      amounts: parts.map((i) => ({ name: i.name, amount: i.amount, wood: Boolean(i.wood), moisture: i.moisture ?? 0 })),
      lines: p.lines.map((l) => ({ name: l.name, ...(l.lot ? { lot: l.lot } : {}), planned_g: l.g, moisture: l.moisture })),
    } }], t('mix.planned', { name }));
    if (lines?.[0]) goInstead('weigh', `plan-${lines[0].id}`);
  };

  return (
    <main class="screen" id="main">
      <Head title={t('mix.title')} sub={name} />
      <UnitSwitch />
      {Object.keys(app().ref.value.recipes).length > 0 && <RecipePicker label={t('field.batch_mixed.recipe')} value={recipe} onPick={pick} none />}
      <fieldset class="stack-close" key={recipe ?? ''}><legend>{t('mix.ingredients')}</legend>
        {rows.map((r, i) => (
          <div class="card" key={i}>
            <input class="input" dir="auto" aria-label={t('parts.name', { n: i + 1 })} value={r.name} placeholder={t('parts.name', { n: i + 1 })}
              onInput={(e) => change(i, { name: e.currentTarget.value, wood: tableRow(e.currentTarget.value)?.wood ?? r.wood })} />
            <Percent label={t('mix.amount', { n: i + 1 })} digits={4} value={r.amount} onChange={(amount) => change(i, { amount })} />
            <button type="button" class="choice" aria-pressed={r.wood} onClick={() => change(i, { wood: !r.wood })}>{t('mix.wood')}</button>
          </div>
        ))}
        <button type="button" class="btn" onClick={() => setRows([...rows, { name: '', amount: null, wood: false }])}>{t('parts.more')}</button>
      </fieldset>
      {refused && <ErrorNote what={t('finding.carbide', { about: refused.name })} todo={t(`mix.meant.${refused.meant[0]}`)} />}
      <ChoiceGrid label={t('field.recipe_written.basis')} value={basis} onPick={(v) => setBasis(v as Basis)} options={BASES.map((b) => ({ value: b, name: t(`choice.basis.${b}`) }))} />
      {sums && 'ok' in sums && <Findings of={sums.ok.map((f) => ({ ...f, values: { ...f.values, sum: `${Number(f.values['sum']) / 10_000} %` } }))} />}
      {sums && 'wrong' in sums && <ErrorNote what={sums.wrong} />}
      {ready && !blocked && <Bases basis={basis} parts={parts} />}
      <Percent label={t('field.mix_planned.target')} value={target} onChange={setTarget} />
      <ChoiceGrid label={t('mix.wish')} value={kind} onPick={(v) => setKind(v as WishKind)}
        options={(['bags', 'wet', 'all_of', 'charges'] as const).map((w) => ({ value: w, name: t(`mix.wish.${w}`) }))} />
      {(kind === 'bags' || kind === 'charges') && (
        <label class="field"><span class="field-label">{t(`mix.wish.${kind}`)}</span><input class="input" inputMode="numeric" value={count} onInput={(e) => setCount(e.currentTarget.value)} /></label>
      )}
      {kind === 'wet' && <Amount label={t('mix.wish.wet')} quantity="mass" value={wet} onChange={setWet} />}
      {kind === 'all_of' && <ChoiceGrid label={t('mix.wish.all_of')} value={all} onPick={setAll} options={parts.filter((p) => p.lots).map((p) => ({ value: p.name, name: p.name }))} />}
      <Amount label={t('field.mix_planned.fill_g')} quantity="mass" value={fill} onChange={setFill} />
      <details class="card"><summary>{t('mix.mixer')}</summary>
        <Amount label={t('field.farm_equipped.mixer_g')} quantity="mass" value={mixerG} onChange={setMixerG} />
        <Amount label={t('field.farm_equipped.mixer_ml')} quantity="volume" value={mixerMl} onChange={setMixerMl} />
        <Amount label={t('field.farm_equipped.loss_g')} quantity="mass" unit="g" value={loss} onChange={setLoss} />
        <Findings of={ofMixer(settings['rotating'] === true)} />
      </details>
      {made && 'wrong' in made && <ErrorNote what={made.wrong} />}
      {made && 'ok' in made && <Result p={made.ok} parts={parts} basis={basis as Basis} target={target ?? 0} fill={fill} mixer={Boolean(mixerG)} onKeep={() => void keep(made.ok)} />}
    </main>
  );
}

/** Every basis side by side, and C:N with its range. */
function Bases({ basis, parts }: { basis: Basis; parts: Ingredient[] }) {
  const every = attempt(() => everyBasis(basis, parts));
  const rows = parts.map((p) => tableRow(p.name));
  const content = (p: Ingredient, i: number): { c: readonly [number, number, number]; n: readonly [number, number, number] } | null => {
    const [c, n] = [own(p.name, 'c'), own(p.name, 'n')];
    const table = rows[i];
    if (!table && (c === undefined || n === undefined)) return null;
    return { c: c === undefined ? table?.c ?? [0, 0, 0] : [c, c, c], n: n === undefined ? table?.n ?? [0, 0, 0] : [n, n, n] };
  };
  if ('wrong' in every) return <ErrorNote what={every.wrong} />;
  const dry = every.ok.of_total_dry ?? [];
  const contents = parts.map(content);
  const cn = contents.every(Boolean) ? attempt(() => ratio(contents.map((x, i) => ({ dry: dry[i] ?? 0, c: x?.c ?? [0, 0, 0], n: x?.n ?? [0, 0, 0] })))) : null;
  const one = (x: number | null): string => (x === null ? '∞' : String(Math.round(x / 100)));
  return (
    <details class="card"><summary>{t('mix.bases')}</summary>
      <div class="tablewrap" tabIndex={0}><table>
        <thead><tr><th>{t('mix.ingredient')}</th>{Object.keys(every.ok).map((b) => <th class="num" key={b}>{t(`choice.basis.${b}`)}</th>)}</tr></thead>
        <tbody>{parts.map((p, i) => <tr key={p.name}><td dir="auto">{p.name}</td>{Object.entries(every.ok).map(([b, list]) => <td class="num" key={b}>{percent(list?.[i] ?? 0)}</td>)}</tr>)}</tbody>
      </table></div>
      {cn && 'ok' in cn && <p>{t('mix.cn', { likely: one(cn.ok.likely), low: one(cn.ok.low), high: one(cn.ok.high), n: percent(cn.ok.n) })}</p>}
      {parts.map((p, i) => <Findings key={p.name} of={contents[i] ? ofNitrogen(p.name, contents[i]?.n[1] ?? 0) : []} />)}
    </details>
  );
}

interface ResultProps { p: Plan; parts: Ingredient[]; basis: Basis; target: number; fill: number | null; mixer: boolean; onKeep: () => void }

function Result({ p, parts, basis, target, fill, mixer, onKeep }: ResultProps) {
  const bag = !mixer && fill && p.bags ? attempt(() => perBag(parts, basis, target, fill, p.bags ?? 1)) : null;
  return (
    <section class="stack" aria-label={t('mix.weigh')}>
      <h2>{t('mix.weigh')}</h2>
      <ul class="list">
        {p.lines.map((l, i) => <li key={i}><div class="item-still"><span><b dir="auto">{l.name}</b><span class="sub">{t('mix.at', { p: percent(l.moisture) })}{l.short ? ` · ${t('mix.short')}` : ''}</span></span><span class="qty">{scale(l.g)}</span></div></li>)}
        <li><div class="item-still"><b>{t('mix.water')}</b><span class="qty">{scale(p.water_g)}</span></div></li>
        <li><div class="item-still"><span>{t('mix.total')}</span><span class="qty">{scale(p.total_g)}</span></div></li>
      </ul>
      <dl class="facts">
        <dt>{t('mix.moisture')}</dt><dd>{t('mix.wb', { p: percent(p.moisture) })}</dd>
        <dt>{t('mix.shares')}</dt><dd dir="auto">{parts.map((x, i) => `${x.name} ${percent(p.shares[i] ?? 0)}`).join(', ')}</dd>
        {p.bags !== null && <><dt>{t('mix.bags')}</dt><dd>{p.left_g ? t('mix.bags.left', { n: p.bags, left: scale(p.left_g) }) : p.bags}</dd></>}
        <dt>{t('mix.charges')}</dt><dd>{p.charges.length}{p.volume_ml ? ` · ${t('mix.each', { v: tell(p.volume_ml, 'volume') })}` : ''}</dd>
        {p.unpriced.length < p.lines.length && <><dt>{t('mix.cost')}</dt><dd>{t('mix.cost.of', { all: (p.cost_minor / 100).toFixed(2), bag: p.bag_cost_minor === null ? '–' : (p.bag_cost_minor / 100).toFixed(2), kg: (p.kg_cost_minor / 100).toFixed(2) })}{p.unpriced.length ? ` ${t('mix.cost.without', { names: p.unpriced.join(', ') })}` : ''}</dd></>}
        {p.short.length > 0 && <><dt>{t('mix.short')}</dt><dd dir="auto">{p.short.map(([n, g]) => `${n} ${scale(g)}`).join(', ')}</dd></>}
        {p.store_bags !== null && <><dt>{t('mix.store')}</dt><dd>{p.store_bags}</dd></>}
      </dl>
      {p.charges.length > 1 && (
        <div class="tablewrap" tabIndex={0}><table>
          <thead><tr><th>{t('mix.charge')}</th>{p.lines.map((l, i) => <th class="num" key={i} dir="auto">{l.name}</th>)}<th class="num">{t('mix.water')}</th></tr></thead>
          <tbody>{p.charges.map((c, i) => <tr key={i}><td>{i + 1}</td>{c.g.map((g, j) => <td class="num" key={j}>{scale(g)}</td>)}<td class="num">{scale(c.water_g)}</td></tr>)}</tbody>
        </table></div>
      )}
      {bag && 'ok' in bag && (
        <details class="card"><summary>{t('mix.per_bag')}</summary>
          <ul class="list">{parts.map((x, i) => <li key={x.name}><div class="item-still"><span dir="auto">{x.name}</span><span class="qty">{t('unit.g', { n: bag.ok.g[i] ?? 0 })}</span></div></li>)}
            <li><div class="item-still"><span>{t('mix.water')}</span><span class="qty">{bag.ok.water_ml} mL</span></div></li></ul>
        </details>
      )}
      <Findings of={p.findings} />
      <button type="button" class="btn btn-first" onClick={onKeep}>{t('mix.keep')}</button>
    </section>
  );
}
