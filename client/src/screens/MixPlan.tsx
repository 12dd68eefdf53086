/** Plans a batch from any one wish: what to weigh, the water, the charges, what it costs and what is short. */
import { useEffect, useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { percent, units } from '../i18n/format';
import { ofMixer, ofMoisture } from '../trade/cautions';
import { perBag } from '../trade/perBag';
import { plan, type Plan, type Wish } from '../trade/plan';
import type { Basis } from '../trade/recipe';
import type { Ingredient } from '../trade/stock';
import { said } from '../trade/units';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { RecipePicker } from '../ui/Pick';
import { goInstead, to } from '../ui/route';
import { allergenWords } from './MaterialLot';
import { declared, rowsOf } from './mixdata';
import { Bases, EMPTY, MixRows, readMix, type Mix } from './MixRows';
import { Amount, attempt, Beside, Findings, money, Percent, scale, tell, UnitSwitch } from './mixwords';
import { Head } from './parts';
import { NO_SPAWN, spawnFields, spawnOf, SpawnFor, SpawnRate, type Spawn } from './SpawnRate';

type WishKind = Wish['kind'];

export function MixPlan({ recipe: first }: { recipe?: string | undefined }) {
  const settings = app().ref.value.settings;
  const setting = (name: string): number | null => (typeof settings[name] === 'number' ? Number(settings[name]) : null);
  const [mix, setMix] = useState<Mix>(EMPTY);
  const [recipe, setRecipe] = useState<string | null>(null);
  const [target, setTarget] = useState<number | null>(6_000);
  const [kind, setKind] = useState<WishKind>('bags');
  const [count, setCount] = useState('');
  const [wet, setWet] = useState<number | null>(null);
  const [all, setAll] = useState('');
  const [fill, setFill] = useState<number | null>(setting('fill_g'));
  const [loss, setLoss] = useState<number | null>(setting('loss_g'));
  const [mixerG, setMixerG] = useState<number | null>(setting('mixer_g'));
  const [mixerMl, setMixerMl] = useState<number | null>(setting('mixer_ml'));
  const [spawn, setSpawn] = useState<Spawn>(NO_SPAWN);
  const [name] = useState(() => app().newName());

  const pick = (code: string): void => {
    const found = app().ref.value.recipes[code];
    setRecipe(code || null);
    if (!found) return;
    setMix(rowsOf(found));
    setSpawn(spawnOf(found));
    if (typeof found['moisture'] === 'number') setTarget(found['moisture']);
  };
  useEffect(() => { if (first) pick(first); }, [first]);
  const { parts, ready, base } = readMix(mix);
  const { basis } = mix;
  const wish: Wish | null = kind === 'all_of' ? (all ? { kind, name: all } : null)
    : kind === 'wet' ? (wet ? { kind, g: wet } : null)
      : /^[1-9]\d{0,5}$/.test(count.trim()) ? { kind, n: Number(count) } : null;
  const made = ready && basis && target !== null && wish
    ? attempt(() => plan(parts, basis, target, wish, { fill_g: fill, loss_g: loss ?? 0, mixer: mixerG ? { g: mixerG, ml: mixerMl } : null, bag_minor: setting('bag_minor') ?? 0, base }))
    : null;
  const keep = async (p: Plan): Promise<void> => {
    const batch = app().newCode('M');
    const lines = await save([{ ty: 'mix.planned', sub: ['plan'], d: {
      name, batch, target: target ?? 0, water_g: p.water_g, charges: p.charges.length, basis, said: mix.said, base,
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
      <MixRows mix={mix} onChange={setMix} again={recipe ?? ''} />
      {ready && basis && <Bases basis={basis} parts={parts} />}
      <Percent key={`t${recipe}`} label={t('field.mix_planned.target')} value={target} onChange={setTarget} />
      {!made && target !== null && <Findings of={ofMoisture(target, base)} />}
      <ChoiceGrid label={t('mix.wish')} value={kind} onPick={(v) => setKind(v as WishKind)}
        options={(['bags', 'wet', 'all_of', 'charges'] as const).map((w) => ({ value: w, name: t(`mix.wish.${w}`) }))} />
      {(kind === 'bags' || kind === 'charges') && (
        <label class="field"><span class="field-label">{t(`mix.wish.${kind}`)}</span><input class="input" inputMode="numeric" value={count} onInput={(e) => setCount(e.currentTarget.value)} /></label>
      )}
      {kind === 'wet' && <Amount label={t('mix.wish.wet')} quantity="mass" value={wet} onChange={setWet} />}
      {kind === 'all_of' && (parts.some((p) => p.lots)
        ? <ChoiceGrid label={t('mix.wish.all_of')} value={all} onPick={setAll} options={parts.filter((p) => p.lots).map((p) => ({ value: p.name, name: p.name, about: scale((p.lots ?? []).reduce((sum, l) => sum + l.mass_g, 0)) }))} />
        : <Beside text={t('mix.no_lots')} />)}
      <Amount label={t('field.mix_planned.fill_g')} quantity="mass" value={fill} onChange={setFill} />
      <details class="card"><summary>{t('mix.mixer')}</summary>
        <Amount label={t('field.farm_equipped.mixer_g')} quantity="mass" value={mixerG} onChange={setMixerG} />
        <Amount label={t('field.farm_equipped.mixer_ml')} quantity="volume" value={mixerMl} onChange={setMixerMl} />
        <Amount label={t('field.farm_equipped.loss_g')} quantity="mass" unit="g" value={loss} onChange={setLoss} />
        <a class="btn" href={to('mixer')}>{t('mixer.title')}</a>
      </details>
      <details class="card"><summary>{t('spawn.title')}</summary><SpawnRate spawn={spawn} onChange={setSpawn} again={recipe ?? ''} /></details>
      {made && 'wrong' in made && <ErrorNote what={made.wrong} />}
      {made && 'ok' in made && basis && (
        <>
          <Result p={made.ok} parts={parts} basis={basis} target={target ?? 0} fill={fill} loss={loss ?? 0} mixer={Boolean(mixerG)} onKeep={() => void keep(made.ok)} />
          {fill && made.ok.bags && spawnFields(spawn) ? <SpawnFor spawn={spawn} bags={made.ok.bags} fill={fill} moisture={made.ok.moisture} onUnit={(unit_g) => setSpawn({ ...spawn, unit_g })} /> : null}
        </>
      )}
    </main>
  );
}

interface ResultProps { p: Plan; parts: Ingredient[]; basis: Basis; target: number; fill: number | null; loss: number; mixer: boolean; onKeep: () => void }

function Result({ p, parts, basis, target, fill, loss, mixer, onKeep }: ResultProps) {
  // What goes into a bag is what it holds and what it loses: without a mixer both are weighed into it.
  const bag = !mixer && fill && p.bags ? attempt(() => perBag(parts, basis, target, fill + loss, p.bags ?? 1)) : null;
  const allergens = [...new Set(parts.flatMap((x) => declared(app().ref.value.materials, x.name).allergens.split(/,\s*/)).filter(Boolean))].join(', ');
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
        {mixer && <><dt>{t('mix.charges')}</dt><dd>{p.charges.length}{p.volume_ml ? ` · ${t('mix.each', { v: tell(p.volume_ml, 'volume') })}` : ''}</dd></>}
        {p.unpriced.length < p.lines.length && <><dt>{t('mix.cost')}</dt><dd>{t('mix.cost.of', { all: money(p.cost_minor), bag: p.bag_cost_minor === null ? '–' : money(p.bag_cost_minor), kg: money(p.kg_cost_minor) })}{p.unpriced.length ? ` ${t('mix.cost.without', { names: p.unpriced.join(', ') })}` : ''}</dd></>}
        {p.short.length > 0 && <><dt>{t('mix.short')}</dt><dd dir="auto">{p.short.map(([n, g]) => `${n} ${scale(g)}`).join(', ')}</dd></>}
        {allergens && <><dt>{t('field.material_received.allergens')}</dt><dd>{allergenWords(allergens)}</dd></>}
        {p.store_bags !== null && <><dt>{t('mix.store')}</dt><dd>{p.store_bags}</dd></>}
      </dl>
      {p.charges.length > 1 && (
        <div class="tablewrap" tabIndex={0}><table>
          <thead><tr><th>{t('mix.charge')}</th>{p.lines.map((l, i) => <th class="num" key={i} dir="auto">{l.name}</th>)}<th class="num">{t('mix.water')}</th></tr></thead>
          <tbody>{p.charges.map((c, i) => <tr key={i}><td>{i + 1}</td>{c.g.map((g, j) => <td class="num" key={j}>{scale(g)}</td>)}<td class="num">{scale(c.water_g)}</td></tr>)}</tbody>
        </table></div>
      )}
      {bag && 'ok' in bag && (
        <section class="card" aria-label={t('mix.per_bag')}><h2>{t('mix.per_bag')}</h2>
          <p class="small quiet">{t('mix.per_bag.about', { n: p.bags ?? 0 })}</p>
          <ul class="list">{parts.map((x, i) => <li key={x.name}><div class="item-still"><span dir="auto">{x.name}</span><span class="qty">{scale(bag.ok.g[i] ?? 0)}</span></div></li>)}
            <li><div class="item-still"><span>{t('mix.water')}</span><span class="qty">{bagWater(bag.ok.water_ml)}</span></div></li></ul>
          <Findings of={bag.ok.findings.filter((f) => f.code === 'fine_amount')} />
        </section>
      )}
      {mixer && <Findings of={ofMixer(app().ref.value.settings['rotating'] === true)} />}
      <Findings of={p.findings} />
      <button type="button" class="btn btn-first" onClick={onKeep}>{t('mix.keep')}</button>
    </section>
  );
}

/** Water into one bag: millilitres, and fluid ounces where the farm thinks in them. */
const bagWater = (ml: number): string => (units.value === 'us' ? `${num(said(ml, 'fl oz', 1) / 10)} fl oz` : `${num(ml)} mL`);
