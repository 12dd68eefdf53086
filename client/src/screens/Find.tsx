/** Find, offline: by batch, strain, place, stage, age or typed code; places with counts first, then the bags. */
import { useState } from 'preact/hooks';
import type { Found, Query } from '../app-types';
import { isCode, normalise } from '../ids';
import { t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { app } from '../ui/app';
import { ENDS, STAGES } from '../ui/catalogue';
import { placeName, strainName } from '../ui/names';
import { go, to } from '../ui/route';
import { Head, Loading } from './parts';
import { FoundRow } from './rows';

const AGES = [7, 14, 21, 30, 60];
// Rows cost more than the search does: what fills two screens is drawn, the rest is a touch away.
const SHOWN = 15;
const PLACES = 4;
const PLACES_OF_ONE = 60;

interface Group { batch: string; name: string; n: number; rows: Found[] }

/** Rows of an answer by batch, the batch with most bags first. */
export function byBatch(rows: Found[]): Group[] {
  const groups = new Map<string, Group>();
  for (const row of rows) {
    const g = groups.get(row.batch) ?? { batch: row.batch, name: row.name, n: 0, rows: [] };
    g.n += row.n;
    g.rows.push(row);
    groups.set(row.batch, g);
  }
  for (const g of groups.values()) g.rows.sort((a, b) => b.n - a.n);
  return [...groups.values()].sort((a, b) => b.n - a.n);
}

export function Find({ query }: { query: URLSearchParams }) {
  const a = app();
  const [q, setQ] = useState<Query>({
    ...(query.get('q') ? { text: query.get('q') ?? '' } : {}),
    ...(query.get('stage') ? { stage: query.get('stage') ?? '' } : {}),
    ...(query.get('strain') ? { strain: query.get('strain') ?? '' } : {}),
    ...(query.get('batch') ? { batch: query.get('batch') ?? '' } : {}),
    ...(query.get('bad') ? { bad: true } : {}),
  });
  const [more, setMore] = useState(SHOWN);
  const ref = a.ref.value;
  void a.changed.value;
  if (!a.indexReady.value) return <main class="screen" id="main"><Head title={t('nav.find')} root /><Loading /></main>;
  const set = (part: Query): void => { setQ((old) => ({ ...old, ...part })); setMore(SHOWN); };
  const rows = a.find(q);
  const groups = byBatch(rows);
  const n = rows.reduce((s, r) => s + r.n, 0);
  const code = normalise(q.text ?? '');
  return (
    <main class="screen" id="main">
      <Head title={t('nav.find')} root />
      <form role="search" class="stack" onSubmit={(e) => { e.preventDefault(); if (isCode(code)) go('c', code); }}>
        <input class="input" type="search" value={q.text ?? ''} aria-label={t('find.label')} placeholder={t('find.label')} autoComplete="off" onInput={(e) => set({ text: e.currentTarget.value })} />
        {isCode(code) && <a class="btn btn-first" href={to('c', code)}>{t('find.open', { code: spacedCode(code) })}</a>}
        <details {...(q.stage || q.strain || q.minAgeDays || q.bad || q.place ? { open: true } : {})}>
          <summary>{t('find.narrow')}</summary>
          <div class="figures">
            <Narrow label={t('find.stage')} value={q.stage} options={[...STAGES, ...ENDS].map((s) => [s, ENDS.includes(s) ? t(`end.${s}`) : t(`stage.${s}`)])} onPick={(v) => set({ stage: v })} />
            <Narrow label={t('find.strain')} value={q.strain} options={Object.keys(ref.strains).map((s) => [s, strainName(s)])} onPick={(v) => set({ strain: v })} />
            <Narrow label={t('find.place')} value={q.place} options={Object.keys(ref.places).map((p) => [p, placeName(p)])} onPick={(v) => set({ place: v })} />
            <Narrow label={t('find.age')} value={q.minAgeDays ? String(q.minAgeDays) : ''} options={AGES.map((d) => [String(d), t('find.older', { n: d })])} onPick={(v) => set({ minAgeDays: Number(v) })} />
          </div>
          <button type="button" class="choice" style={{ marginTop: '8px' }} aria-pressed={q.bad === true} onClick={() => set({ bad: !q.bad })}>{t('find.bad')}</button>
        </details>
      </form>
      <p role="status"><b>{t('find.answer', { n, places: new Set(rows.map((r) => r.place)).size, batches: groups.length })}</b></p>
      {rows.length === 0 && <p class="quiet">{t('find.nothing')}</p>}
      {groups.slice(0, more).map((g) => <Batch key={g.batch} group={g} most={groups.length === 1 ? PLACES_OF_ONE : PLACES} />)}
      {groups.length > more && <button type="button" class="btn" onClick={() => setMore(more + SHOWN)}>{t('find.more', { n: groups.length - more })}</button>}
    </main>
  );
}

function Narrow({ label, value, options, onPick }: { label: string; value?: string | undefined; options: [string, string][]; onPick: (v: string) => void }) {
  return (
    <label class="field"><span class="small">{label}</span>
      <select class="input" value={value ?? ''} onChange={(e) => onPick(e.currentTarget.value)}>
        <option value="">{t('find.any')}</option>
        {options.map(([v, name]) => <option key={v} value={v}>{name}</option>)}
      </select>
    </label>
  );
}

function Batch({ group: { batch, name, n, rows }, most }: { group: Group; most: number }) {
  const [all, setAll] = useState(false);
  const shown = all ? rows : rows.slice(0, most);
  return (
    <section class="stack-close">
      <h2><a href={to('batch', batch)} dir="auto">{name}</a> <span class="quiet small">{t('name.bags', { n })}</span></h2>
      <ul class="list">{shown.map((r) => <Place key={`${r.place} ${r.stage} ${r.strain} ${r.bad}`} row={r} />)}</ul>
      {shown.length < rows.length && <button type="button" class="btn" onClick={() => setAll(true)}>{t('find.more_places', { n: rows.length - shown.length })}</button>}
    </section>
  );
}

// A place with its count; opened, the bags that stand there.
function Place({ row }: { row: Found }) {
  const [open, setOpen] = useState(false);
  return (
    <li>
      <button type="button" class="item pic" aria-expanded={open} onClick={() => setOpen(!open)}><FoundRow row={row} showBatch={false} /></button>
      {open && (
        <div class="chips" style={{ padding: '0 16px 16px' }}>
          {row.codes.slice(0, 200).map((c) => <a class="chip code" key={c} href={to('bag', c)}>{c.startsWith('g-') ? t('name.group') : spacedCode(c)}</a>)}
          {row.codes.length > 200 && <span class="chip">{t('find.and_more', { n: row.codes.length - 200 })}</span>}
          {row.place && <a class="chip" href={to('place', row.place)}>{t('find.to_place')}</a>}
        </div>
      )}
    </li>
  );
}
