/** A bag's or a group's page: what it is, where it lives, what makes sense now, what happened to it. */
import type { Part, PartView } from '../app-types';
import { choiceName, t } from '../i18n';
import { dayAge, day, spacedCode, weight } from '../i18n/format';
import { suggest } from '../suggest';
import { app } from '../ui/app';
import { BagSign, lookOf, lookWords } from '../ui/BagSign';
import { KINDS } from '../ui/catalogue';
import { History } from '../ui/History';
import { useAnswer } from '../ui/load';
import { partName, placePath, spawnName, strainName } from '../ui/names';
import { ErrorNote, AskNote } from '../ui/Notes';
import { to } from '../ui/route';
import { LoadLink } from './loadstate';
import { actLink, Head, Loading } from './parts';
import { Pictures } from './Pictures';
import { ArchivedNote } from './rows';

// Acts a bag may take that are told on other screens or by nobody's thumb.
const NOT_HERE = ['record.voided', 'record.amended', 'record.admitted', 'question.answered', 'group.corrected',
  'batch.mixed', 'bag.filled', 'stock.opened', 'load.filled'];

const ALWAYS = ['bag.contaminated', 'bag.moved'];

/** Every act the catalogue allows for a code, without the suggested ones. */
export function otherActs(code: string, ended: boolean, but: string[]): string[] {
  const letter = code.startsWith('g-') ? 'G' : code[0] ?? '';
  return [...KINDS.values()]
    .filter((k) => k.sub.includes(letter) && !NOT_HERE.includes(k.name) && !but.includes(k.name))
    .filter((k) => !(ended && k.alive))
    .filter((k) => k.name !== 'group.split' || letter === 'G')
    .map((k) => k.name);
}

export function Acts({ code, ended, extra = [] }: { code: string; ended: boolean; extra?: string[] }) {
  const may = otherActs(code, ended, []);
  const offered = suggest(code, app().briefs(code)).filter((s) => KINDS.get(s.ty));
  const first = (offered.find((s) => s.likely) ?? offered[0])?.ty;
  // A contaminated bag is found at any stage: its way is never more than three touches.
  const next = [...new Set([...offered.map((s) => s.ty), ...ALWAYS.filter((ty) => may.includes(ty))])].filter((ty) => ty !== first);
  const others = may.filter((ty) => ty !== first && !next.includes(ty)).concat(extra);
  return (
    <section class="stack" aria-label={t('bag.acts')}>
      {first && <a class="btn btn-first" href={actLink(first, code)}>{t(`act.${first.replace('.', '_')}`)}</a>}
      {next.length > 0 && (
        <div class="choices">{next.map((ty) => <a class="btn" key={ty} href={actLink(ty, code)}>{t(`act.${ty.replace('.', '_')}`)}</a>)}</div>
      )}
      {others.length > 0 && (
        <details>
          <summary>{t('bag.other_acts')}</summary>
          <div class="choices">{others.map((ty) => <a class="btn" key={ty} href={actLink(ty, code)}>{t(`act.${ty.replace('.', '_')}`)}</a>)}</div>
        </details>
      )}
    </section>
  );
}

export function Bag({ code }: { code: string }) {
  const view = useAnswer(() => app().part(code), [code]);
  if (view === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (view === null) return <main class="screen" id="main"><Head title={spacedCode(code)} /><ErrorNote what={t('bag.unknown')} todo={t('unknown.todo')} /></main>;
  const { part } = view;
  return (
    <main class="screen" id="main">
      <Head title={partName(code, part)} sub={code.startsWith('g-') ? `${view.batch.name} · ${t('name.group')}` : `${view.batch.name} · ${spacedCode(code)}`} />
      <div class="sides">
        <div>
          <Standing view={view} />
          {view.questions.length > 0 && (
            <AskNote what={t('bag.questions', { n: view.questions.length })}><a class="btn" href={to('answers')}>{t('bag.questions.go')}</a></AskNote>
          )}
          <Acts code={code} ended={Boolean(part.end)} extra={code.startsWith('B') ? [] : ['group.corrected']} />
          <Facts view={view} />
        </div>
        <section class="stack-close">
          <Pictures lines={view.history} />
          <h2>{t('bag.history')}</h2>
          {view.archived ? <ArchivedNote /> : <History lines={view.history} />}
        </section>
      </div>
    </main>
  );
}

/** Since when a part is what its page calls it: its end where it has come, else its stage. */
export const sinceOf = (part: Pick<Part, 'since' | 'end' | 'ended'>): number => (part.end ? part.ended : undefined) ?? part.since;

function Standing({ view }: { view: PartView }) {
  const { part, code } = view;
  const words = lookWords(part);
  return (
    <section class="card">
      <div class="bag-head">
        <figure style={{ textAlign: 'center' }}>
          <BagSign look={lookOf(part)} size={116} label={words} />
          {part.end && <figcaption class="tag">{t(`end.${part.end}`)}</figcaption>}
        </figure>
        <div class="stack-close">
          <p style={{ fontSize: 'var(--t-lead)', fontWeight: 650 }}>{part.end ? t(`end.${part.end}`) : t(`stage.${part.stage}`)}</p>
          <p class="quiet">{t('bag.since', { day: dayAge(sinceOf(part)) })}</p>
          <p dir="auto"><b>{part.end ? t('bag.gone') : placePath(part.place)}</b></p>
          {!code.startsWith('B') && <p>{t('name.bags', { n: part.n })}</p>}
        </div>
      </div>
      {part.bad && (
        <div class="note note-bad"><BadMark /><strong>{part.bad.sign ? choiceName('sign', part.bad.sign) : t('act.bag_contaminated')}</strong>
          <span>{[part.bad.where && choiceName('where', part.bad.where), part.bad.kept && choiceName('kept', part.bad.kept), day(part.bad.t)].filter(Boolean).join(' · ')}</span></div>
      )}
      {part.gate === 'failed' && <ErrorNote what={t('bag.load_failed')} todo={t('bag.load_failed.todo')} />}
      {!part.end && code.startsWith('B') && <a class="btn" href={to('seek', code)}>{t('seek.do')}</a>}
    </section>
  );
}

function Facts({ view: { part, batch } }: { view: PartView }) {
  return (
    <section class="card">
      <dl class="facts">
        <dt>{t('bag.batch')}</dt><dd><a href={to('batch', batch.code)} dir="auto">{batch.name}</a></dd>
        <dt>{t('bag.strain')}</dt><dd dir="auto">{strainName(part.strain)}</dd>
        {part.spawn && <><dt>{t('bag.spawn')}</dt><dd><a href={to('thing', part.spawn)}>{spawnName(part.spawn)}</a></dd></>}
        {part.load && <><dt>{t('bag.load')}</dt><dd><LoadLink code={part.load} /></dd></>}
        {part.fill_g !== undefined && <><dt>{t('bag.fill')}</dt><dd>{weight(part.fill_g)}</dd></>}
        {part.g !== undefined && part.g > 0 && <><dt>{t('bag.picked')}</dt><dd>{weight(part.g)} · {t('bag.flushes', { n: part.flush ?? 1 })}</dd></>}
        {part.up && <><dt>{t('bag.from')}</dt><dd><a href={to('bag', part.up)}>{t('name.group')}</a></dd></>}
      </dl>
      {part.inferred && part.inferred.length > 0 && (
        <p><span class="tag">{t('bag.inferred')}</span> <span class="small">{t('bag.inferred.words', { steps: part.inferred.map((s) => t(`stage.${s}`)).join(', ') })}</span></p>
      )}
    </section>
  );
}

function BadMark() {
  return <svg width="28" height="28" viewBox="0 0 32 32" aria-hidden="true"><path d="M5 5l22 22M27 5L5 27" stroke="var(--bad)" stroke-width="5" stroke-linecap="round" /></svg>;
}

