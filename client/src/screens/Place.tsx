/** A place: what stands on it and in the places inside it; looked at, moved, harvested as a whole. */
import { useState } from 'preact/hooks';
import { choiceName, t } from '../i18n';
import { dayAge, spacedCode } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { BagSign, lookOf } from '../ui/BagSign';
import { Care } from '../ui/Care';
import { useAnswer } from '../ui/load';
import { placeName, placePath, strainName } from '../ui/names';
import { ErrorNote } from '../ui/Notes';
import { to } from '../ui/route';
import { actLink, Head, Loading } from './parts';

const HERE = ['bag.colonised', 'bag.opened', 'bag.soaked', 'bag.shocked', 'bag.moved', 'bag.inoculated', 'bag.finished', 'note.written'];

/** Where air stands still: carbon dioxide gathers, and nobody hears a call. */
const CLOSED = new Set(['room', 'cold_store']);

export function Place({ code }: { code: string }) {
  const view = useAnswer(() => app().place(code), [code]);
  if (view === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (view === null) return <main class="screen" id="main"><Head title={spacedCode(code)} /><ErrorNote what={t('place.unknown')} todo={t('unknown.todo')} /></main>;
  const within = typeof view.place['within'] === 'string' ? view.place['within'] : null;
  const type = String(view.place['type'] ?? 'shelf');
  const direct = view.standing.reduce((n, s) => n + s.n, 0);
  const inside = view.inside.reduce((n, p) => n + p.n, 0);
  const looked = (): void => { void save([{ ty: 'bag.checked', sub: [code], d: {} }], t('place.looked', { name: placeName(code) })); };
  return (
    <main class="screen" id="main">
      <Head title={placeName(code)} sub={[choiceName('type', type), within ? t('place.in', { name: placePath(within) }) : '', spacedCode(code)].filter(Boolean).join(' · ')} />
      {CLOSED.has(type) && <Care of={[code, ...view.inside.map((p) => p.code)].some((place) => app().find({ place, stage: 'fruiting' }).length > 0) ? 'room_fruiting' : 'room'} />}
      <div class="figures">
        <div class="figure"><b>{direct}</b><span>{t('place.here')}</span></div>
        {view.inside.length > 0 && <div class="figure"><b>{inside}</b><span>{t('place.inside', { n: view.inside.length })}</span></div>}
        {typeof view.place['holds'] === 'number' && <div class="figure"><b>{Math.max(0, view.place['holds'] - direct - inside)}</b><span>{t('place.free', { n: view.place['holds'] })}</span></div>}
      </div>
      <div class="sides">
        <div>
          {direct + inside > 0 && (
            <>
              <button type="button" class="btn btn-first" onClick={looked}>{t('place.look')}</button>
              <a class="btn" href={to('act', 'bag.checked', code)}>{t('place.look_but')}</a>
            </>
          )}
          {direct > 0 && (
            <ul class="list">{view.standing.map((s, i) => <Row key={i} row={s} />)}</ul>
          )}
          {view.inside.length > 0 && (
            <section class="stack-close"><h2>{t('place.places_inside')}</h2>
              <ul class="list">{view.inside.map((p) => <li key={p.code}><a href={to('place', p.code)}><b dir="auto">{placeName(p.code)}</b><span class="qty">{p.n}</span></a></li>)}</ul>
            </section>
          )}
          {direct + inside === 0 && <p class="quiet">{t('place.empty')}</p>}
        </div>
        <section class="stack">
          <a class="btn" href={`#/move?shelf=${code}`}>{t('place.put')}</a>
          {type !== 'room' && type !== 'cold_store' && <a class="btn" href={to('roll', code)}>{t('place.roll')}</a>}
          {direct + inside > 0 && <a class="btn" href={to('harvest', code)}>{t('act.bag_harvested')}</a>}
          {direct + inside > 0 && (
            <details><summary>{t('place.all_acts', { n: direct + inside })}</summary>
              <div class="choices">{HERE.map((ty) => <a class="btn" key={ty} href={actLink(ty, code)}>{t(`act.${ty.replace('.', '_')}`)}</a>)}</div></details>
          )}
          <a class="btn" href={to('setup', 'places', code)}>{t('place.rename')}</a>
          <a class="btn" href={to('print', code)}>{t('place.print')}</a>
        </section>
      </div>
    </main>
  );
}

function Row({ row }: { row: { batch: string; name: string; strain?: string; stage: string; n: number; codes: string[]; since?: number; bad?: boolean } }) {
  const [open, setOpen] = useState(false);
  const since = row.since ?? Date.now();
  return (
    <li>
      <button type="button" class="item pic" aria-expanded={open} onClick={() => setOpen(!open)}>
        <BagSign look={lookOf({ stage: row.stage, since, ...(row.bad ? { bad: { sign: '', t: since } } : {}) })} size={48} />
        <span><b dir="auto">{row.name}</b><span class="sub" dir="auto">{[t(`stage.${row.stage}`), row.since !== undefined ? dayAge(row.since) : '', strainName(row.strain)].filter(Boolean).join(' · ')}</span></span>
        <span class="qty">{row.n}</span>
      </button>
      {open && (
        <div class="chips" style={{ padding: '0 16px 16px' }}>
          <a class="chip" href={to('batch', row.batch)}>{t('place.to_batch')}</a>
          {row.codes.slice(0, 200).map((c) => <a class="chip code" key={c} href={to('bag', c)}>{c.startsWith('g-') ? t('name.group') : spacedCode(c)}</a>)}
        </div>
      )}
    </li>
  );
}
