/** How a vessel is run, or a load was: in words, and as the fields that a load takes over from its vessel. */
import type { RefRow } from '../app-types';
import { t } from '../i18n';
import { pressure, temperature } from '../i18n/format';
import { app } from '../ui/app';
import { anyName } from '../ui/names';
import { figure } from './loads';
import { altitude } from './Pressure';

const TIMES = ['heat_min', 'hold_min', 'cool_min'] as const;
const SHARED = ['way', 'temp', 'gauge_pa', ...TIMES] as const;

/** "Pressure steam", "121 °C", "hold 150 min", ... as far as they are known. */
export function programme(row: RefRow): string[] {
  const [temp, gauge, holds] = [figure(row, 'temp'), figure(row, 'gauge_pa'), row['holds']];
  return [
    row['way'] ? t(`choice.way.${String(row['way'])}`) : '',
    temp !== null ? temperature(temp) : '',
    gauge !== null ? pressure(gauge) : '',
    ...TIMES.map((name) => (figure(row, name) !== null ? t(`load.${name}`, { min: figure(row, name) ?? 0 }) : '')),
    typeof holds === 'number' ? t('load.holds', { n: holds }) : '',
  ].filter(Boolean);
}

const fieldsOf = (vessel: unknown): Record<string, unknown> => {
  const row = typeof vessel === 'string' ? app().ref.value.vessels[vessel] : undefined;
  return Object.fromEntries(SHARED.filter((name) => row?.[name] !== undefined).map((name) => [name, row?.[name]]));
};

/** A load with what it does not say itself taken from its vessel. */
export const withVessel = (row: RefRow): RefRow => ({ ...fieldsOf(row['pot']), ...row });

/** What is written of the vessel when it is chosen: the rest follows from it until the heat is on. */
export const chosen = (vessel: string): Record<string, unknown> => ({ pot: vessel, vessel: anyName(vessel), way: fieldsOf(vessel)['way'] });

/** What a load copies of its vessel when the heat goes on: later changes of the vessel leave the load as it ran. */
export function programmeOf(row: RefRow): Record<string, unknown> {
  const at = altitude();
  const all = withVessel(row);
  return {
    ...(at !== null ? { altitude_m: at } : {}),
    ...Object.fromEntries(['pot', 'vessel', ...SHARED].filter((name) => all[name] !== undefined).map((name) => [name, all[name]])),
  };
}
