/**
 * The screens that a round in the shed can do without: forms, set-up, printing, records. A file of their own,
 * like those of the round; the service worker keeps both, so with no network nothing is missing.
 */
import '../i18n/rest';
import '../style/later.css';
import type { ComponentChildren } from 'preact';
import type { Route } from '../ui/route';
import { Act } from './Act';
import { Amend } from './Amend';
import { Answers } from './Answers';
import { startPhotos as sendPhotos } from '../photos';
import { readyLabels } from '../labels/words';
import { Bench } from './Bench';
import { Inoculate } from './Inoculate';
import { Adopt, LabelLater, Print } from './LabelLater';
import { Fill, NewBatch, Opening } from './NewBatch';
import { Mend } from './Mend';
import { Pair } from './Pair';
import { Photo } from './Photo';
import { Records } from './Records';
import { Rooms } from './Rooms';
import { PutBack } from './SafetyCard';
import { Settings } from './Settings';
import { Setup } from './Setup';
import { Thing } from './Thing';
import { Fetching, later } from './later';
import { labelsScreen } from './printing';

const mix = later(() => import('./mix'));
const steam = later(() => import('./steam'));
const people = later(() => import('./People'));

export { Pair, PutBack };

/** What is fetched and sent by itself, once the screens are here. */
export function startPhotos(): void {
  readyLabels();
  void sendPhotos();
}

/** The screen of a route, or null where it is none of these. */
export function deskScreen({ name, args: [a = '', b = ''], query }: Route): ComponentChildren {
  switch (name) {
    case 'act': return <Act key={a + b} ty={a} code={b} />;
    case 'amend': return <Amend key={a} id={a} />;
    case 'mend': return <Mend key={a} id={a} />;
    case 'inoculate': return <Inoculate key={a} lot={a || undefined} />;
    case 'mix': case 'weigh': case 'measure': case 'dry': case 'mixer': return mix.here.value?.mixScreen({ name, args: [a, b], query }) ?? <Fetching of={mix} />;
    case 'load': case 'loads': case 'vessels': case 'load-log': case 'load-table': return steam.here.value?.steamScreen({ name, args: [a, b], query }) ?? <Fetching of={steam} />;
    case 'new-batch': return <NewBatch />;
    case 'fill': return <Fill key={a} code={a} />;
    case 'opening': return <Opening />;
    case 'label': return <LabelLater key={a} code={a} />;
    case 'adopt': return <Adopt key={a} code={a} />;
    case 'labels': return labelsScreen({ name, args: [a, b], query });
    case 'print': return <Print key={a} code={a} />;
    case 'thing': return <Thing key={a} code={a} />;
    case 'setup':
      // A recipe and a lot need the trade's sums, and so the file that brings them.
      if (b && ['recipes', 'materials'].includes(a)) return mix.here.value?.mixScreen({ name, args: [a, b], query }) ?? <Fetching of={mix} />;
      return <Setup key={a + b} name={a || undefined} code={b || undefined} />;
    case 'bench': return <Bench />;
    case 'photo': return <Photo key={a} code={a} />;
    case 'rooms': return <Rooms key={query.get('batch') ?? ''} batch={query.get('batch') ?? undefined} />;
    case 'answers': return <Answers />;
    case 'records': return <Records />;
    case 'people': return people.here.value ? <people.here.value.People /> : <Fetching of={people} />;
    case 'settings': return <Settings />;
    default: return null;
  }
}
