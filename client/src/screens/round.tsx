/** The screens of a round in the shed: what a scan leads to, Find, and the acts done with a thumb. */
import '../i18n/rest';
import '../answers';
import '../style/later.css';
import '../style/forced.css';
import type { ComponentChildren } from 'preact';
import { markBusy } from '../ui/busy';
import type { Route } from '../ui/route';
import { Bad } from './Bad';
import { Bag } from './Bag';
import { Batch } from './Batch';
import { Find } from './Find';
import { Harvest } from './Harvest';
import { More } from './More';
import { Move, Roll } from './Move';
import { Place } from './Place';
import { UnknownCode } from './Unknown';

markBusy();

/** The screen of a route, or null where it is none of these. */
export function roundScreen({ name, args: [a = ''], query }: Route): ComponentChildren {
  // Keys make a screen start afresh for another code instead of keeping the last one's figures.
  switch (name) {
    case 'more': return <More />;
    case 'find': return <Find key={query.toString()} query={query} />;
    case 'bag': return <Bag key={a} code={a} />;
    case 'batch': return <Batch key={a} code={a} />;
    case 'place': return <Place key={a} code={a} />;
    case 'bad': return <Bad key={a} code={a} />;
    case 'move': return <Move key={a} code={a || undefined} shelf={query.get('shelf') ?? undefined} />;
    case 'roll': return <Roll key={a} code={a} />;
    case 'harvest': return <Harvest key={a} code={a || undefined} />;
    case 'unknown': return <UnknownCode code={a} />;
    default: return null;
  }
}
