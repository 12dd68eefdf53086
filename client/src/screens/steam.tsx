/** The screens of sterilising: loads, vessels, and what belongs to them. A file of their own, fetched when first wanted. */
import '../i18n/rest';
import '../style/later.css';
import '../style/curve.css';
import type { ComponentChildren } from 'preact';
import type { Route } from '../ui/route';
import { LoadLog } from './LoadLog';
import { LoadPage } from './LoadPage';
import { Loads } from './Loads';
import { LoadTable } from './LoadTable';
import { Vessels } from './Vessels';

/** The screen of a route, or null where it is none of these. */
export function steamScreen({ name, args: [a = ''], query }: Route): ComponentChildren {
  switch (name) {
    case 'load': return <LoadPage key={a} code={a} />;
    case 'loads': return <Loads put={query.get('put') ?? undefined} />;
    case 'vessels': return <Vessels key={a} code={a || undefined} />;
    case 'load-log': return <LoadLog key={a} code={a} />;
    case 'load-table': return <LoadTable key={a} code={a} />;
    default: return null;
  }
}
