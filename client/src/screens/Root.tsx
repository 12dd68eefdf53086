/** The frame: status on top, the screen of the route, undo, and the rail; before pairing only the first run. */
import { useEffect, useState } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import { t } from '../i18n';
import { app, helper } from '../ui/app';
import { errorWords } from '../ui/act';
import { Icon, type IconName } from '../ui/Icon';
import { menu } from '../ui/menu';
import { ErrorNote } from '../ui/Notes';
import { route, to, type Route } from '../ui/route';
import { StatusBar, useClock } from '../ui/Status';
import { Toast } from '../ui/toast';
import { UndoBar } from '../ui/UndoBar';
import { Home } from './Home';
import { Fetching, later } from './later';
import { CodePage, Scan } from './Scan';
import { Head } from './parts';

const round = later(() => import('./round'));
const desk = later(() => import('./desk'));
const floor = later(() => import('./floor'));
const FLOOR = ['rounds', 'round', 'round-end', 'hands', 'sweep', 'seek', 'count', 'day-sheet', 'papers', 'four'];
const ROUND = ['more', 'find', 'bag', 'batch', 'place', 'bad', 'move', 'roll', 'harvest', 'unknown'];

const Lost = () => <main class="screen" id="main"><Head title={t('nav.lost')} /><ErrorNote what={t('nav.lost.what')} todo={t('nav.lost.todo')} /></main>;

function screenOf(at: Route): ComponentChildren {
  const { name, args: [a = ''] } = at;
  switch (name) {
    case '': if (!helper.value) return <Home news={app().device.value?.role === 'owner' && desk.here.value && <desk.here.value.PutBack />} />; return floor.here.value?.floorScreen({ ...at, name: 'four' }) ?? <Fetching of={floor} />;
    case 'scan': return <Scan />;
    case 'c': return <CodePage key={a} code={a} />;
    default:
      if (ROUND.includes(name)) return round.here.value?.roundScreen(at) ?? <Fetching of={round} />;
      if (FLOOR.includes(name)) return floor.here.value?.floorScreen(at) ?? <Fetching of={floor} />;
      return desk.here.value ? desk.here.value.deskScreen(at) ?? <Lost /> : <Fetching of={desk} />;
  }
}

const RAIL: [string, IconName, string][] = [['', 'home', 'nav.home'], ['scan', 'scan', 'nav.scan'], ['find', 'find', 'nav.find'], ['more', 'more', 'nav.more']];

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
      <ul class="rail-wide">{menu().map((name) => (
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
  // Once the first screen is up, and not in its way; the round's first, for a scan leads there.
  useEffect(() => {
    if (state !== 'open') return;
    void round.fetch()
      .then(floor.fetch).then(() => floor.here.value?.goOn())
      .then(desk.fetch).then(() => desk.here.value?.startPhotos());
  }, [state]);
  useEffect(() => { a.start().then(() => setState('open'), (error: unknown) => setState(errorWords(error))); }, []);
  const now = route.value;
  if (state === 'starting') return <p class="screen" role="status">{t('starting')}</p>;
  if (state !== 'open') return <main class="screen" id="main"><h1>{t('app.name')}</h1><ErrorNote what={state.what} todo={state.todo} /></main>;
  if (!a.device.value) return <><Toast />{desk.here.value ? <desk.here.value.Pair code={pairCode} /> : <Fetching of={desk} />}</>;
  return (
    <div class="frame">
      <a class="skip" href="#main" onClick={(e) => { e.preventDefault(); document.querySelector<HTMLElement>('#main h1')?.focus(); }}>{t('nav.skip')}</a>
      <StatusBar />
      {screenOf(now)}
      <Toast />
      {now.name !== 'round' && <UndoBar />}
      <Rail />
    </div>
  );
}
