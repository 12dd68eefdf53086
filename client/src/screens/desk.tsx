/**
 * The screens that a round in the shed can do without: forms, set-up, printing, records. A file of their own,
 * like those of the round; the service worker keeps both, so with no network nothing is missing.
 */
import '../i18n/rest';
import type { ComponentChildren } from 'preact';
import type { Route } from '../ui/route';
import { Act } from './Act';
import { Amend } from './Amend';
import { Answers } from './Answers';
import { Inoculate } from './Inoculate';
import { Adopt, LabelLater, Print } from './LabelLater';
import { Fill, NewBatch, Opening } from './NewBatch';
import { Pair } from './Pair';
import { Records } from './Records';
import { Settings } from './Settings';
import { Setup } from './Setup';
import { Thing } from './Thing';

export { Pair };

/** The screen of a route, or null where it is none of these. */
export function deskScreen({ name, args: [a = '', b = ''] }: Route): ComponentChildren {
  switch (name) {
    case 'act': return <Act key={a + b} ty={a} code={b} />;
    case 'amend': return <Amend key={a} id={a} />;
    case 'inoculate': return <Inoculate key={a} lot={a || undefined} />;
    case 'new-batch': return <NewBatch />;
    case 'fill': return <Fill key={a} code={a} />;
    case 'opening': return <Opening />;
    case 'label': return <LabelLater key={a} code={a} />;
    case 'adopt': return <Adopt key={a} code={a} />;
    case 'print': return <Print key={a} code={a} />;
    case 'thing': return <Thing key={a} code={a} />;
    case 'setup': return <Setup key={a + b} name={a || undefined} code={b || undefined} />;
    case 'answers': return <Answers />;
    case 'records': return <Records />;
    case 'settings': return <Settings />;
    default: return null;
  }
}
