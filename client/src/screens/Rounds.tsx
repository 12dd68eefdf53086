/** Choosing what a round is for, what else the floor needs, and the end of a round: count, misfits, undo for any line. */
import { useEffect, useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { hour, weight } from '../i18n/format';
import { commandOf } from '../round/commands';
import { NAMES, purposeOf } from '../round/purposes';
import type { Round } from '../round/state';
import { Icon } from '../ui/Icon';
import { Mark } from '../ui/Mark';
import { AskNote } from '../ui/Notes';
import { back, goInstead, to } from '../ui/route';
import { driver } from '../ui/round';
import { undoLast } from '../ui/UndoBar';
import { say } from '../ui/toast';
import { LineItem } from './RoundRun';
import { Head, Loading } from './parts';

/** A round left open longer than this (ms) is asked about, not gone on with by itself. */
const FRESH_MS = 12 * 3_600_000;

/** The round that is still open when the app starts: the way back to it, or null. */
export async function openRound(now = Date.now()): Promise<'go_on' | 'ask' | null> {
  const round = await driver().resume();
  if (!round) return null;
  const last = driver().taken.value.at(-1)?.at ?? round.began;
  return now - last < FRESH_MS ? 'go_on' : 'ask';
}

export function Rounds() {
  const d = driver();
  const [asked, setAsked] = useState(d.round.value !== null);
  useEffect(() => { if (!asked) void d.resume().then(() => setAsked(true)); }, []);
  const round = d.round.value;
  return (
    <main class="screen" id="main">
      <Head title={t('rounds.title')} sub={t('rounds.words')} />
      {round && (
        <AskNote what={t('rounds.open', { purpose: t(`purpose.${round.purpose}`), n: d.taken.value.length })}>
          <a class="btn btn-act" href={to('round')}>{t('rounds.go_on')}</a>
          <a class="btn" href={to('round-end')}>{t('rounds.finish')}</a>
        </AskNote>
      )}
      <nav class="choices" aria-label={t('rounds.title')}>
        {NAMES.map((name) => <a class="choice" style={{ textDecoration: 'none' }} key={name} href={to('round', name)}>{t(`purpose.${name}`)}<small>{t(`purpose.${name}.about`)}</small></a>)}
      </nav>
      <h2>{t('rounds.also')}</h2>
      <ul class="list">
        {['sweep', 'seek', 'count', 'day-sheet', 'papers'].map((name) => (
          <li key={name}><a href={to(name)}><b>{t(`floor.${name}`)}</b><span /><span class="sub">{t(`floor.${name}.about`)}</span></a></li>
        ))}
      </ul>
    </main>
  );
}

/** The end: what was taken and what was not; a line may still be taken back, then the round is closed. */
export function RoundEnd() {
  const d = driver();
  const [asked, setAsked] = useState(d.round.value !== null);
  useEffect(() => { if (!asked) void d.resume().then(() => setAsked(true)); }, []);
  const round = d.round.value;
  if (!asked) return <main class="screen" id="main"><Loading /></main>;
  if (!round) return <Rounds />;
  const close = (): void => { void d.close().then(() => goInstead('')); };
  return (
    <main class="screen" id="main">
      <Head title={t('round_end.title', { purpose: t(`purpose.${round.purpose}`) })} sub={t('round_end.began', { time: hour(round.began) })} />
      <Sums round={round} />
      <div class="row row-acts">
        <a class="btn grow" href={to('round')}>{t('rounds.go_on')}</a>
        <button type="button" class="btn grow btn-act" onClick={close}>{t('round_end.close')}</button>
      </div>
      {round.misfits.length > 0 && (
        <section class="stack-close">
          <h2>{t('round_end.misfits', { n: round.misfits.length })}</h2>
          <ul class="list">{round.misfits.map((m) => (
            <li key={`${m.code}${m.reason}${m.at}`}><div class="item-still"><span><Mark kind="bad" size={22} /> <b dir="auto">{m.name}</b><span class="sub">{t(`round.misfit.${m.reason}`, { name: m.name, n: m.fact?.n ?? 0 })}</span></span>
              {m.code.startsWith('B') && <a class="btn" href={to('c', m.code)}>{t('round_end.look')}</a>}</div></li>
          ))}</ul>
        </section>
      )}
      <section class="stack-close">
        <h2>{t('round_end.lines', { n: d.taken.value.length })}</h2>
        {d.taken.value.length > 0 && <ul class="list">{[...d.taken.value].reverse().map((line) => <LineItem key={line.records[0]?.id} line={line} />)}</ul>}
      </section>
    </main>
  );
}

function Sums({ round }: { round: Round }) {
  const taken = driver().taken.value;
  const purpose = purposeOf(round.purpose);
  const bags = taken.reduce((n, line) => n + line.n, 0);
  const grams = taken.reduce((n, line) => n + (line.figure ?? 0), 0);
  return (
    <div class="figures">
      <div class="figure"><b>{num(bags)}</b><span>{t('round_end.taken')}</span></div>
      {purpose.figure === 'g' && <div class="figure"><b>{weight(grams)}</b><span>{t('round_end.weight')}</span></div>}
      <div class="figure"><b>{num(round.misfits.length)}</b><span>{t('round_end.not_taken')}</span></div>
    </div>
  );
}

/** A command tag scanned where no round runs: a purpose begins one, undo takes the last act back. */
export function Hands({ code }: { code: string }) {
  useEffect(() => {
    const word = commandOf(code) ?? '';
    const [kind, value = ''] = word.split('.');
    if (kind === 'purpose' && (value === 'seek' || value === 'sweep')) goInstead(value);
    else if (kind === 'purpose') goInstead('round', value);
    else if (word === 'undo') void undoLast().then(back);
    else if (word === 'home' || word === 'done') goInstead('');
    else {
      say('ask', t(word ? 'hands.purpose_first' : 'round.misfit.command'));
      goInstead('rounds');
    }
  }, [code]);
  return <main class="screen" id="main"><Loading /></main>;
}

/** A helper's phone: four acts and no more. */
export function Four() {
  return (
    <main class="screen" id="main">
      <Head title={t('nav.home')} root />
      <nav class="four" aria-label={t('home.acts')}>
        <a class="btn-act" href={to('scan')}><Icon name="scan" size={40} />{t('home.scan')}</a>
        <a href={to('round', 'move')}>{t('purpose.move')}</a>
        <a href={to('round', 'contaminated')}>{t('purpose.contaminated')}</a>
        <a href={to('round', 'pick')}>{t('purpose.pick')}</a>
        <a href={to('find')}>{t('nav.find')}</a>
      </nav>
    </main>
  );
}
