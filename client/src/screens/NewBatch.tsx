/** A batch: the mix, then the bags filled from it, then their labels. Both records are one act. */
import { useState } from 'preact/hooks';
import type { Draft, Happened, Label } from '../app-types';
import { num, t } from '../i18n';
import { percent } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { field, kind } from '../ui/catalogue';
import { Form, type Filled } from '../ui/Form';
import { useAnswer } from '../ui/load';
import { Care } from '../ui/Care';
import { ErrorNote } from '../ui/Notes';
import { RecipePicker } from '../ui/Pick';
import { PrintLabels } from '../ui/PrintLabels';
import { to } from '../ui/route';
import { toTyped, type Values } from '../ui/validate';
import { codesFor, Labelling, type How } from './Labelling';
import { labelsOf, MOST_LABELS, nextNumber } from './labels';
import { Head, Loading } from './parts';

interface Mixed { code: string; d: Record<string, unknown>; was?: Happened }
interface Made { code: string; name: string; n: number; labels: Label[] }

export function NewBatch() {
  const [mixed, setMixed] = useState<Mixed | null>(null);
  const [made, setMade] = useState<Made | null>(null);
  const [recipe, setRecipe] = useState<string | null>(null);
  const [name] = useState(() => app().newName());
  if (made) return <Done made={made} />;
  if (mixed) return <FillForm title={t('fill.title', { name: String(mixed.d['name']) })} mixed={mixed} first={`${app().device.value?.letter ?? 'A'}1`} onMade={setMade} />;
  const chosen = recipe ? app().ref.value.recipes[recipe] : undefined;
  const moisture = chosen?.['moisture'];
  const parts = chosen?.['parts'];
  return (
    <main class="screen" id="main">
      <Head title={t('screen.new-batch')} sub={t('batch.step1')} />
      <Care of="batch.mixed" />
      <Planned />
      <RecipePicker label={t('field.batch_mixed.recipe')} value={recipe} onPick={(r) => setRecipe(r || null)} none />
      {Array.isArray(parts) && (
        <p class="small quiet" dir="auto">{(parts as { name: string; share: number }[]).map((p) => `${p.name} ${percent(p.share)}`).join(', ')} {t('parts.basis')}</p>
      )}
      <Form key={recipe ?? ''} kind={kind('batch.mixed')} hide={['recipe', 'recipe_name', ...(recipe ? ['parts'] : []), ...OF_A_PLAN]} submit={t('batch.to_filling')}
        start={{ name, ...(typeof moisture === 'number' ? { moisture: String(moisture / 100) } : {}) }}
        onSubmit={({ d }: Filled) => {
          const { was, ...rest } = d;
          setMixed({
            code: app().newCode('M'),
            d: { ...rest, ...(recipe ? { recipe } : {}), ...(chosen?.name ? { recipe_name: chosen.name } : {}), ...(recipe && parts ? { parts } : {}) },
            ...(was ? { was: was as Happened } : {}),
          });
        }} />
    </main>
  );
}

/** What only a plan and its weighing know; by hand a batch is a name, a mix and its moisture. */
const OF_A_PLAN = ['plan', 'target', 'water_g', 'dry_g', 'charges', 'basis', 'said', 'amounts', 'lines'];

/** The way to a plan with its weights, and the plans that wait to be weighed in. */
function Planned() {
  const a = app();
  const waiting = Object.entries(a.ref.value.plans).filter(([, plan]) => a.batchName(String(plan['batch'])) === null);
  return (
    <ul class="list">
      <li><a href={to('mix')}><b>{t('mix.plan')}</b><span /><span class="sub">{t('mix.plan.about')}</span></a></li>
      {waiting.map(([code, plan]) => <li key={code}><a href={to('weigh', code)}><b dir="auto">{String(plan.name)}</b><span /><span class="sub">{t('mix.waiting')}</span></a></li>)}
    </ul>
  );
}

/** More bags filled from a batch that is there already. */
export function Fill({ code }: { code: string }) {
  const [made, setMade] = useState<Made | null>(null);
  const view = useAnswer(() => app().batch(code), [code]);
  if (made) return <Done made={made} />;
  if (view === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (view === null) return <main class="screen" id="main"><ErrorNote what={t('batch.unknown')} todo={t('unknown.todo')} /></main>;
  // The first bags of a planned mix are as many and as heavy as was planned, until somebody says otherwise.
  const planned = Object.keys(view.parts).length ? undefined : Object.values(app().ref.value.plans).find((p) => p['batch'] === code);
  const start = Object.fromEntries(['n', 'fill_g'].flatMap((f) => (typeof planned?.[f] === 'number' ? [[f, toTyped(field('bag.filled', f), planned[f])]] : [])));
  return <FillForm title={t('fill.title', { name: view.name })} start={start} onMade={setMade} first={nextNumber(view.parts, app().device.value?.letter ?? 'A')}
    batch={{ code, name: view.name, made: view.mixed }} />;
}

interface FillProps {
  title: string;
  /** The mix of the same act, not yet written. */
  mixed?: Mixed;
  batch?: { code: string; name: string; made?: number | undefined };
  first: string;
  /** What the fields hold at first, as typed. */
  start?: Values;
  onMade: (made: Made) => void;
}

function FillForm({ title, mixed, batch, first, start, onMade }: FillProps) {
  const [how, setHow] = useState<How>('each');
  const submit = async ({ d }: Filled): Promise<void> => {
    const n = Number(d['n']);
    if (how === 'each' && n > MOST_LABELS) return;
    const code = mixed?.code ?? batch?.code ?? '';
    const name = mixed ? String(mixed.d['name']) : batch?.name ?? '';
    const codes = codesFor(how, n);
    const was = (d['was'] ?? mixed?.was) as Happened | undefined;
    const drafts: Draft[] = [];
    if (mixed) drafts.push({ ty: 'batch.mixed', sub: [code], d: { ...mixed.d, ...(was ? { was: mixed.was ?? was } : {}) } });
    drafts.push({ ty: 'bag.filled', sub: [code], d: { ...d, ...(was ? { was } : {}), ...(codes.length ? { to: codes, ...(how === 'each' ? { first } : {}) } : {}) } });
    const lines = await save(drafts, t('fill.saved', { n, name }));
    if (!lines) return;
    onMade({ code, name, n, labels: labelsOf(codes, { name, made: was?.ms ?? batch?.made ?? Date.now(), what: mixed?.d['recipe_name'] as string | undefined }, first) });
  };
  const fields = kind('bag.filled');
  // How many labels a sheet needs is known only from the count: it is wanted here, though the record may do without.
  return (
    <main class="screen" id="main">
      <Head title={title} sub={mixed ? t('batch.step2') : undefined} />
      <Care of="bag.filled" />
      <Form kind={fields} hide={['to', 'first']} need={['n']} start={start ?? {}} submit={t('fill.save')} onSubmit={(f) => void submit(f)}>
        <Labelling value={how} onPick={setHow} n={0} />
      </Form>
    </main>
  );
}

function Done({ made }: { made: Made }) {
  return (
    <main class="screen" id="main">
      <Head title={made.name} sub={t('name.bags', { n: made.n })} />
      {made.labels.length > 0 ? <PrintLabels labels={made.labels} name={made.name} /> : <p>{t('fill.no_labels', { n: num(made.n) })}</p>}
      {made.labels.length === 0 && <a class="btn" href={to('round', 'adopt', made.code)}>{t('fill.blank')}</a>}
      <a class="btn" href={to('batch', made.code)}>{t('fill.to_batch')}</a>
      <a class="btn" href={`#/loads?put=${made.code}`}>{t('load.into')}</a>
      <a class="btn" href={to('act', 'load.ran', made.code)}>{t('act.load_ran')}</a>
    </main>
  );
}

/** Bags that stood here before Bagtrail came: counted, and labelled when wanted. */
export function Opening() {
  const [how, setHow] = useState<How>('later');
  const [made, setMade] = useState<Made | null>(null);
  const [name] = useState(() => t('opening.name', { name: app().newName() }));
  if (made) return <Done made={made} />;
  const letter = app().device.value?.letter ?? 'A';
  const submit = async ({ d }: Filled): Promise<void> => {
    const n = Number(d['n']);
    if (how === 'each' && n > MOST_LABELS) return;
    const code = app().newCode('M');
    const codes = codesFor(how, n);
    const first = `${letter}1`;
    const lines = await save([{ ty: 'stock.opened', sub: [code], d: { ...d, ...(codes.length ? { to: codes, ...(how === 'each' ? { first } : {}) } : {}) } }], t('opening.saved', { n, name: String(d['name']) }));
    if (lines) setMade({ code, name: String(d['name']), n, labels: labelsOf(codes, { name: String(d['name']), made: (d['was'] as Happened | undefined)?.ms }, first) });
  };
  return (
    <main class="screen" id="main">
      <Head title={t('screen.opening')} />
      <p>{t('opening.words')}</p>
      <Form kind={kind('stock.opened')} hide={['to', 'first']} submit={t('opening.save')} start={{ name, stage: 'spawn_run' }} onSubmit={(f) => void submit(f)}>
        <Labelling value={how} onPick={setHow} n={0} />
      </Form>
    </main>
  );
}
