/** The farm's own things: places with tags to print, strains, spawn lots, recipes, materials, people. */
import { useState } from 'preact/hooks';
import type { Ref } from '../app-types';
import { choiceName, kindName, t } from '../i18n';
import { dayAge, percent, spacedCode } from '../i18n/format';
import { tagOf } from '../labels/tags';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { kind } from '../ui/catalogue';
import { ChoiceGrid } from '../ui/Choice';
import { Form } from '../ui/Form';
import { anyName, placePath, strainName } from '../ui/names';
import { Icon } from '../ui/Icon';
import { PrintLabels } from '../ui/PrintLabels';
import { back, go, to } from '../ui/route';
import { toTyped } from '../ui/validate';
import { Head } from './parts';

type Table = Exclude<keyof Ref, 'settings' | 'devices' | 'loads' | 'plans' | 'vessels'>;

interface Shelf {
  table: Table;
  /** Kinds that add an entry. */
  kinds: string[];
  /** Type letter of a tag, or the word that stands for an entry without one. */
  subject: string;
  /** Its tag is printed. */
  tag: boolean;
}

const SHELVES: Record<string, Shelf> = {
  places: { table: 'places', kinds: ['place.named'], subject: 'P', tag: true },
  strains: { table: 'strains', kinds: ['strain.named'], subject: 'strain', tag: false },
  spawn: { table: 'spawn', kinds: ['spawn.received', 'spawn.made'], subject: 'S', tag: true },
  recipes: { table: 'recipes', kinds: ['recipe.written'], subject: 'recipe', tag: false },
  materials: { table: 'materials', kinds: ['material.received'], subject: 'material', tag: false },
  people: { table: 'people', kinds: ['person.named'], subject: 'W', tag: true },
};

export function Setup({ name, code }: { name?: string | undefined; code?: string | undefined }) {
  const shelf = name ? SHELVES[name] : undefined;
  if (!shelf || !name) {
    return (
      <main class="screen" id="main">
        <Head title={t('screen.setup')} />
        <ul class="list">{Object.entries(SHELVES).map(([key, s]) => (
          <li key={key}><a href={to('setup', key)}><b>{t(`setup.${key}`)}</b><span class="qty">{Object.keys(app().ref.value[s.table]).length}</span><span class="sub">{t(`setup.${key}.about`)}</span></a></li>
        ))}<li><a href={to('mixer')}><b>{t('mixer.title')}</b><span /><span class="sub">{t('mixer.about')}</span></a></li></ul>
      </main>
    );
  }
  return code ? <Entry key={code} name={name} shelf={shelf} code={code} /> : <Shelf name={name} shelf={shelf} />;
}

function about(table: Table, code: string): string {
  const row = app().ref.value[table][code] ?? {};
  const text = (k: string): string => (typeof row[k] === 'string' ? (row[k] as string) : '');
  switch (table) {
    case 'places': return [choiceName('type', text('type')), text('within') ? placePath(text('within')) : '', spacedCode(code)].filter(Boolean).join(' · ');
    case 'strains': return text('species');
    case 'spawn': return [text('carrier') && choiceName('carrier', text('carrier')), spacedCode(code), typeof row['made'] === 'number' ? dayAge(row['made']) : ''].filter(Boolean).join(' · ');
    case 'recipes': return Array.isArray(row['parts']) ? (row['parts'] as { name: string; share: number }[]).map((p) => `${p.name} ${percent(p.share)}`).join(', ') : '';
    case 'people': return text('role') && choiceName('role', text('role'));
    default: return text('supplier');
  }
}

const titleOf = (table: Table, code: string): string =>
  table === 'spawn' ? strainName(app().ref.value.spawn[code]?.['strain'] as string | undefined)
    : String(app().ref.value[table][code]?.['name'] ?? anyName(code));

function Shelf({ name, shelf }: { name: string; shelf: Shelf }) {
  const rows = Object.keys(app().ref.value[shelf.table]).sort((a, b) => titleOf(shelf.table, a).localeCompare(titleOf(shelf.table, b), undefined, { numeric: true }));
  const [printing, setPrinting] = useState(false);
  return (
    <main class="screen" id="main">
      <Head title={t(`setup.${name}`)} sub={t(`setup.${name}.about`)} />
      <a class="btn btn-first" href={to('setup', name, 'new')}><Icon name="plus" />{t(`setup.${name}.add`)}</a>
      {rows.length === 0 && <p class="quiet">{t(`pick.none_yet.${name}`)}</p>}
      {rows.length > 0 && <ul class="list">{rows.map((code) => (
        <li key={code}><a href={to('setup', name, code)}><b dir="auto">{titleOf(shelf.table, code)}</b><span class="sub" dir="auto" style={{ gridRow: 2 }}>{about(shelf.table, code)}</span></a></li>
      ))}</ul>}
      {shelf.tag && rows.length > 0 && (printing
        ? <PrintLabels name={t(`setup.${name}`)} labels={rows.map(tagOf)} />
        : <button type="button" class="btn" onClick={() => setPrinting(true)}><Icon name="print" />{t('setup.print', { n: rows.length })}</button>)}
    </main>
  );
}

// A new entry, a blank tag getting its meaning, or a new name for an old one: one form for all three.
function Entry({ name, shelf, code }: { name: string; shelf: Shelf; code: string }) {
  const row = app().ref.value[shelf.table][code];
  const [ty, setTy] = useState(shelf.kinds[row && row['parent'] !== undefined ? 1 : 0] ?? '');
  const [printed, setPrinted] = useState<string | null>(null);
  const k = kind(ty);
  // A recipe is never rewritten: what was mixed by the old one keeps it.
  const subject = code === 'new' || shelf.subject === 'recipe' ? (shelf.subject.length === 1 ? app().newCode(shelf.subject) : shelf.subject) : code;
  const start: Record<string, unknown> = {};
  for (const f of k.fields) {
    const v = row?.[f.name];
    if (v !== undefined) start[f.name] = f.type === 'int' && typeof v === 'number' ? toTyped(f, v) : v;
  }
  if (printed) {
    return (
      <main class="screen" id="main">
        <Head title={titleOf(shelf.table, printed)} sub={spacedCode(printed)} />
        <PrintLabels name={titleOf(shelf.table, printed)} labels={[tagOf(printed)]} />
        <button type="button" class="btn" onClick={() => { setPrinted(null); go('setup', name, 'new'); }}>{t(`setup.${name}.add`)}</button>
        <a class="btn" href={to('setup', name)}>{t('setup.done')}</a>
      </main>
    );
  }
  const submit = async (d: Record<string, unknown>): Promise<void> => {
    const lines = await save([{ ty, sub: [subject], d }], t('setup.saved', { name: String(d['name'] ?? kindName(ty)) }));
    if (!lines) return;
    if (shelf.tag && code === 'new') setPrinted(subject);
    else back();
  };
  return (
    <main class="screen" id="main">
      <Head title={row ? titleOf(shelf.table, code) : t(`setup.${name}.add`)} sub={row && shelf.subject.length === 1 ? spacedCode(code) : undefined} />
      {shelf.kinds.length > 1 && !row && <ChoiceGrid label={t('setup.how')} value={ty} onPick={setTy} options={shelf.kinds.map((x) => ({ value: x, name: kindName(x) }))} />}
      {shelf.subject === 'recipe' && row && <p class="small quiet">{t('setup.recipe_version')}</p>}
      <Form key={ty} kind={k} start={start} submit={t('setup.save')} onSubmit={({ d }) => void submit(d)} need={ty === 'spawn.made' ? ['strain'] : []} />
      {row && shelf.tag && <PrintLabels name={titleOf(shelf.table, code)} labels={[tagOf(code)]} />}
    </main>
  );
}
