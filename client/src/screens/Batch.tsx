/** A batch: where it lives, what became of it, what it yielded and on what basis; split by strain. */
import type { BatchView, Sums } from '../app-types';
import { t } from '../i18n';
import { day, dayAge, percent, share, spacedCode, weight } from '../i18n/format';
import { app } from '../ui/app';
import { BagSign, lookOf } from '../ui/BagSign';
import { ENDS, STAGES } from '../ui/catalogue';
import { useAnswer } from '../ui/load';
import { partName, placePath, strainName } from '../ui/names';
import { ErrorNote } from '../ui/Notes';
import { to } from '../ui/route';
import { Acts } from './Bag';
import { LoadLines } from './loadstate';
import { SOUR_MS, span } from './loads';
import { Mark } from '../ui/Mark';
import { Head, Loading } from './parts';
import { ArchivedNote, Counts } from './rows';

const LISTED = 300;
/** A mix that is older than a week is no longer a warning but history. */
const WET_MS = 7 * 86_400_000;

export function Batch({ code }: { code: string }) {
  const view = useAnswer(() => app().batch(code), [code]);
  if (view === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (view === null) return <main class="screen" id="main"><Head title={spacedCode(code)} /><ErrorNote what={t('batch.unknown')} todo={t('unknown.todo')} /></main>;
  const all = view.summary.all;
  const strains = Object.entries(view.summary.strains);
  const mixed = [view.mixed !== undefined && t('batch.mixed', { day: dayAge(view.mixed) }), view.recipe, view.moisture !== undefined && t('batch.moisture', { p: percent(view.moisture) })].filter(Boolean).join(' · ');
  return (
    <main class="screen" id="main">
      <Head title={view.name} sub={mixed} />
      <div class="figures">
        <Figure n={String(all.live)} words={t('batch.live', { n: all.live, of: all.bags })} />
        <Figure n={all.g ? weight(all.g) : '–'} words={t('batch.harvest')} />
        <Figure n={all.be !== undefined && all.g > 0 ? percent(all.be) : '–'} words={t('batch.be')} />
        <Figure n={share(all.bad, all.bags)} words={t('batch.bad', { n: all.bad })} />
      </div>
      <p class="small quiet">{basis(all)}</p>
      {view.archived && <ArchivedNote />}
      <div class="sides">
        <div>
          <section class="stack-close">
            <h2>{t('batch.stages')}</h2>
            <Counts whole={all.bags} rows={[
              ...STAGES.filter((s) => all.stages[s]).map((s) => ({ key: s, name: t(`stage.${s}`), n: all.stages[s] ?? 0 })),
              ...ENDS.filter((e) => all.ends[e]).map((e) => ({ key: e, name: t(`end.${e}`), n: all.ends[e] ?? 0 })),
            ]} />
          </section>
          {all.live > 0 && (
            <section class="stack-close">
              <h2>{t('batch.places')}</h2>
              <Counts whole={all.live} rows={Object.entries(all.places).sort((a, b) => b[1] - a[1]).map(([p, n]) => ({
                key: p || '-', name: p ? placePath(p) : t('name.no_place'), n, ...(p ? { href: to('place', p) } : {}),
              }))} />
            </section>
          )}
          <Loads view={view} />
          <Acts code={code} ended={all.live <= 0} />
          <div class="row"><a class="btn" href={`#/rooms?batch=${code}`}>{t('rooms.see')}</a><a class="btn" href={to('seek', code)}>{t('seek.do')}</a></div>
          <div class="row"><a class="btn" href={to('fill', code)}>{t('batch.fill_more')}</a><a class="btn" href={to('print', code)}>{t('batch.print')}</a></div>
        </div>
        <div>
          <Flushes sums={all} title={t('batch.flushes')} />
          {strains.length > 1 && <Strains rows={strains} />}
          {view.summary.shared.length > 0 && (
            <section class="stack-close"><h2>{t('batch.shared')}</h2><p class="small">{t('batch.shared.words')}</p>
              <ul class="list">{view.summary.shared.map((s, i) => (
                <li key={i}><div class="item-still"><span dir="auto">{s.of.map(([b, st]) => `${b === code ? view.name : app().batchName(b) ?? spacedCode(b)}${st ? ` (${strainName(st)})` : ''}`).join(' + ')}</span><span class="qty">{weight(s.g)}</span></div></li>
              ))}</ul>
            </section>
          )}
          <Members view={view} />
        </div>
      </div>
    </main>
  );
}

/** The loads of its bags with their state, how many stand in none, and how long its mix stands wet. */
function Loads({ view }: { view: BatchView }) {
  const parts = Object.values(view.parts).filter((p) => p.n > 0);
  const codes = [...new Set(parts.flatMap((p) => p.load ?? []))];
  const out = parts.filter((p) => !p.load && !p.end && (p.stage === 'filled' || (codes.length > 0 && p.inferred?.includes('sterilised')))).reduce((n, p) => n + p.n, 0);
  const age = view.mixed === undefined ? null : Date.now() - view.mixed;
  const wet = age !== null && age < WET_MS && (parts.length === 0 || parts.some((p) => p.stage === 'filled' && !p.end && !p.load));
  if (!codes.length && !out && !wet) return null;
  return (
    <section class="stack-close" aria-label={t('batch.loads')}>
      <h2>{t('batch.loads')}</h2>
      <LoadLines codes={codes} />
      {out > 0 && <p class="note note-ask"><Mark kind="ask" size={24} /><span>{t('batch.no_load', { n: out })}</span></p>}
      {wet && <p class={`note ${age > SOUR_MS ? 'note-ask' : 'note-care'}`}><Mark kind={age > SOUR_MS ? 'ask' : 'care'} size={24} /><span>{t(age > SOUR_MS ? 'load.stood.long' : 'load.stood', { time: span(age) })} {t('mix.warm')}</span></p>}
      {out > 0 && <a class="btn" href={`#/loads?put=${view.code}`}>{t('load.into')}</a>}
    </section>
  );
}

const Figure = ({ n, words }: { n: string; words: string }) => <div class="figure"><b>{n}</b><span>{words}</span></div>;

/** What the efficiency is a share of, in words; or what is missing for it. */
export function basis(s: Sums): string {
  if (s.g === 0) return t('batch.be.none');
  if (s.be === undefined || s.dry_g === undefined) return t('batch.be.unknown');
  const flushes = Object.keys(s.flushes).map(Number).sort((a, b) => a - b);
  return t('batch.be.basis', { fresh: weight(s.g), dry: weight(s.dry_g), n: s.spawned, count: flushes.length, flushes: flushes.join(', ') });
}

function Flushes({ sums, title }: { sums: Sums; title: string }) {
  const rows = Object.entries(sums.flushes).map(([f, g]) => [Number(f), g] as const).sort((a, b) => a[0] - b[0]);
  if (rows.length === 0) return null;
  return (
    <section class="stack-close">
      <h2>{title}</h2>
      <div class="tablewrap" tabIndex={0}><table>
        <thead><tr><th>{t('batch.flush')}</th><th class="num">{t('batch.fresh')}</th><th class="num">{t('batch.of_all')}</th><th class="num">{t('batch.be.short')}</th></tr></thead>
        <tbody>{rows.map(([f, g]) => (
          <tr key={f}><td>{f}</td><td class="num">{weight(g)}</td><td class="num">{share(g, sums.g)}</td>
            <td class="num">{sums.dry_g ? percent(Math.round((g * 10_000) / sums.dry_g)) : '–'}</td></tr>
        ))}</tbody>
      </table></div>
    </section>
  );
}

function Strains({ rows }: { rows: [string, Sums][] }) {
  return (
    <section class="stack-close">
      <h2>{t('batch.strains')}</h2>
      <div class="tablewrap" tabIndex={0}><table>
        <thead><tr><th>{t('bag.strain')}</th><th class="num">{t('batch.col.live')}</th><th class="num">{t('batch.col.bad')}</th><th class="num">{t('batch.fresh')}</th><th class="num">{t('batch.be.short')}</th></tr></thead>
        <tbody>{rows.map(([id, s]) => (
          <tr key={id}><td dir="auto">{strainName(id || undefined)}</td><td class="num">{s.live}</td><td class="num">{share(s.bad, s.bags)}</td><td class="num">{weight(s.g)}</td><td class="num">{s.be !== undefined && s.g ? percent(s.be) : '–'}</td></tr>
        ))}</tbody>
      </table></div>
    </section>
  );
}

function Members({ view }: { view: BatchView }) {
  const parts = Object.entries(view.parts).filter(([, p]) => p.n !== 0)
    .sort((a, b) => (a[1].num ?? a[0]).localeCompare(b[1].num ?? b[0], undefined, { numeric: true }));
  return (
    <details>
      <summary>{t('batch.members', { n: parts.length })}</summary>
      <ul class="list">{parts.slice(0, LISTED).map(([code, p]) => (
        <li key={code}><a class="pic" href={to('bag', code)}><BagSign look={lookOf(p)} size={44} />
          <span><b>{partName(code, p)}</b><span class="sub" dir="auto">{p.end ? `${t(`end.${p.end}`)}${p.ended ? ` ${day(p.ended)}` : ''}` : `${t(`stage.${p.stage}`)} · ${placePath(p.place)}`}</span></span>
          {p.g ? <span class="nowrap">{weight(p.g)}</span> : <span />}</a></li>
      ))}</ul>
      {parts.length > LISTED && <p class="quiet">{t('find.and_more', { n: parts.length - LISTED })}</p>}
    </details>
  );
}
