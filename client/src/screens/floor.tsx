/** The floor: rounds, sweep and seek, counts told afterwards, the day sheet, the command card. Fetched after the first paint. */
import '../i18n/rest';
import '../style/round.css';
import type { ComponentChildren } from 'preact';
import { goInstead, route, type Route } from '../ui/route';
import { Count } from './Count';
import { DaySheet } from './DaySheet';
import { Papers } from './Papers';
import { RoundRun } from './RoundRun';
import { Four, Hands, openRound, RoundEnd, Rounds } from './Rounds';
import { Seek, Sweep } from './Sweep';

/** The screen of a route, or null where it is none of these. */
export function floorScreen({ name, args: [a, b] }: Route): ComponentChildren {
  switch (name) {
    case 'rounds': return <Rounds />;
    case 'round': return <RoundRun purpose={a} target={b} />;
    case 'round-end': return <RoundEnd />;
    case 'hands': return <Hands code={a ?? ''} />;
    case 'sweep': return <Sweep key={a ?? ''} place={a} />;
    case 'seek': return <Seek code={a} />;
    case 'count': return <Count />;
    case 'day-sheet': return <DaySheet />;
    case 'papers': return <Papers />;
    case 'four': return <Four />;
    default: return null;
  }
}

/** A round that was open when the phone died goes on by itself: whoever holds it has wet hands. */
export async function goOn(): Promise<void> {
  if ((await openRound()) === 'go_on' && route.value.name === '') goInstead('round');
}
