/** The screens of mixing, with the trade's sums behind them: a file of their own, fetched when first wanted. */
import '../i18n/rest';
import '../style/later.css';
import type { ComponentChildren } from 'preact';
import type { Route } from '../ui/route';
import { DryLot } from './Drying';
import { MaterialLot } from './MaterialLot';
import { Mixer } from './Mixer';
import { MixPlan } from './MixPlan';
import { RecipeWrite } from './RecipeWrite';
import { Measure, Weigh } from './WeighIn';

/** The screen of a route, or null where it is none of these. */
export function mixScreen({ name, args: [a = '', b = ''] }: Route): ComponentChildren {
  switch (name) {
    case 'mix': return <MixPlan recipe={a || undefined} />;
    case 'weigh': return <Weigh key={a} code={a} />;
    case 'measure': return <Measure key={a} code={a} />;
    case 'dry': return <DryLot key={a} code={a} />;
    case 'mixer': return <Mixer />;
    case 'setup': return a === 'recipes' ? <RecipeWrite key={b} code={b} /> : <MaterialLot key={b} code={b} />;
    default: return null;
  }
}
