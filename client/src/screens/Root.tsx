/** The frame: status on top, the screen of the route, undo, and the rail; before pairing only the first run. */
import { useEffect, useState } from 'preact/hooks';
import { signal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { t } from '../i18n';
import { app } from '../ui/app';
import { errorWords } from '../ui/act';
import { Icon, type IconName } from '../ui/Icon';
import { ErrorNote } from '../ui/Notes';
import { route, to, type Route } from '../ui/route';
import { StatusBar, useClock } from '../ui/Status';
import { Toast } from '../ui/toast';
import { UndoBar } from '../ui/UndoBar';
import { Bad } from './Bad';
import { Bag } from './Bag';
import { Batch } from './Batch';
import { Find } from './Find';
import { Harvest } from './Harvest';
import { Home, More } from './Home';
import { Move, Roll } from './Move';
import { Place } from './Place';
import { CodePage, Scan } from './Scan';
import { Head, Loading } from './parts';

type Desk = typeof import('./desk');

const desk = signal<Desk | null>(null);
const deskTrouble = signal(false);

/** Fetches the other screens; from the service worker's store where it has them. */
async function fetchDesk(): Promise<void> {
  deskTrouble.value = false;
  try {
    desk.value ??= await import('./desk');
  } catch {
    deskTrouble.value = true;
  }
}

function Fetching() {
  return (
    <main class="screen" id="main">
      {deskTrouble.value
        ? <><ErrorNote what={t('desk.missing')} todo={t('desk.missing.todo')} /><button type="button" class="btn" onClick={() => void fetchDesk()}>{t('desk.again')}</button></>
        : <Loading />}
    </main>
  );
}

const Lost = () => <main class="screen" id="main"><Head title={t('nav.lost')} /><ErrorNote what={t('nav.lost.what')} todo={t('nav.lost.todo')} /></main>;

function screenOf(at: Route): ComponentChildren {
  const { name, args: [a = ''], query } = at;
  // Keys make a screen start afresh for another code instead of keeping the last one's figures.
  switch (name) {
    case '': return <Home />;
    case 'scan': return <Scan />;
    case 'find': return <Find key={query.toString()} query={query} />;
    case 'more': return <More />;
    case 'c': return <CodePage key={a} code={a} />;
    case 'bag': return <Bag key={a} code={a} />;
    case 'batch': return <Batch key={a} code={a} />;
    case 'place': return <Place key={a} code={a} />;
    case 'bad': return <Bad key={a} code={a} />;
    case 'move': return <Move key={a} code={a || undefined} shelf={query.get('shelf') ?? undefined} />;
    case 'roll': return <Roll key={a} code={a} />;
    case 'harvest': return <Harvest key={a} code={a || undefined} />;
    default: return desk.value ? desk.value.deskScreen(at) ?? <Lost /> : <Fetching />;
  }
}

const RAIL: [string, IconName, string][] = [['', 'home', 'nav.home'], ['scan', 'scan', 'nav.scan'], ['find', 'find', 'nav.find'], ['more', 'more', 'nav.more']];
const WIDE = ['new-batch', 'opening', 'inoculate', 'harvest', 'move', 'setup', 'records', 'answers', 'settings'];

function Rail() {
  const at = route.value.name;
  const a = app();
  const waiting = a.questions.value.length + a.held.value.length;
  const inRail = RAIL.some(([name]) => name === at);
  return (
    <nav class="rail" aria-label={t('nav.label')}>
      <ul>{RAIL.map(([name, icon, id]) => (
        <li key={name} class={name === 'scan' ? 'rail-scan' : name === 'more' ? 'rail-more' : ''}>
          <a href={to(name)} {...(at === name ? { 'aria-current': 'page' as const } : {})}><Icon name={icon} />{t(id)}
            {name === 'more' && waiting > 0 && <span class="count" aria-label={t('home.answers', { n: waiting })}>{waiting}</span>}</a>
        </li>
      ))}</ul>
      <ul class="rail-wide">{WIDE.map((name) => (
        <li key={name}><a href={to(name)} {...(at === name && !inRail ? { 'aria-current': 'page' as const } : {})}><span>{t(`screen.${name}`)}</span>
          {name === 'answers' && waiting > 0 && <span class="count">{waiting}</span>}</a></li>
      ))}</ul>
    </nav>
  );
}

export function Root({ pairCode }: { pairCode: string | null }) {
  const a = app();
  const [state, setState] = useState<'starting' | 'open' | { what: string; todo: string }>('starting');
  useClock();
  // Once the first screen is up, and not in its way.
  useEffect(() => { if (state === 'open') void fetchDesk(); }, [state]);
  useEffect(() => { a.start().then(() => setState('open'), (error: unknown) => setState(errorWords(error))); }, []);
  const now = route.value;
  if (state === 'starting') return <p class="screen" role="status">{t('starting')}</p>;
  if (state !== 'open') return <main class="screen" id="main"><h1>{t('app.name')}</h1><ErrorNote what={state.what} todo={state.todo} /></main>;
  if (!a.device.value) return <><Toast />{desk.value ? <desk.value.Pair code={pairCode} /> : <Fetching />}</>;
  return (
    <div class="frame">
      <a class="skip" href="#main" onClick={(e) => { e.preventDefault(); document.querySelector<HTMLElement>('#main h1')?.focus(); }}>{t('nav.skip')}</a>
      <StatusBar />
      {screenOf(now)}
      <Toast />
      <UndoBar />
      <Rail />
    </div>
  );
}
