/** The screens of mixing, with the trade's sums behind them: a file of their own, fetched when first wanted. */
import '../i18n/rest';
import '../style/later.css';
import type { ComponentChildren } from 'preact';
import type { Route } from '../ui/route';
import { MixPlan } from './MixPlan';
import { Measure, Weigh } from './WeighIn';

/** The screen of a route, or null where it is none of these. */
export function mixScreen({ name, args: [a = ''] }: Route): ComponentChildren {
  switch (name) {
    case 'mix': return <MixPlan />;
    case 'weigh': return <Weigh key={a} code={a} />;
    case 'measure': return <Measure key={a} code={a} />;
    default: return null;
  }
}
