/** The one round of this device: the driver with this app, its names, its sounds. */
import type { Reading } from '../scan/read';
import { tell, type Outcome } from '../scan/feedback';
import { nextNumber } from '../screens/labels';
import { Driver } from '../round/driver';
import { factOf, type Names } from '../round/facts';
import type { Told } from '../round/machine';
import { app } from './app';
import { errorWords, newRound } from './act';
import { anyName, partName } from './names';
import { say } from './toast';

const names: Names = {
  any: anyName,
  part: (code, part, batch) => `${partName(code, part)} · ${batch}`,
  next: (parts) => nextNumber(parts, app().device.value?.letter ?? 'A'),
};

let made: Driver | undefined;

export function driver(): Driver {
  made ??= new Driver({
    app: { write: (drafts) => app().write(drafts), get store() { return app().store; } },
    fact: (code) => factOf(code, app(), names),
    name: anyName,
    newId: newRound,
    now: () => Date.now(),
    tell: () => undefined,
    failed: (error) => { const { what, todo } = errorWords(error); say('bad', `${what} ${todo}`.trim()); },
  });
  return made;
}

/** The sound and vibration of what was told: three that are never mistaken, and a short one for "heard". */
export const SOUNDS: Record<Told['outcome'], Outcome> = { taken: 'taken', before: 'again', misfit: 'wrong', set: 'read', ask: 'again' };

export function sound(told: Told | null): void {
  if (told) tell(SOUNDS[told.outcome]);
}

/** A label in the camera's view during a round: told in the picture, with its sound, by the viewfinder. */
export async function takeReading(reading: Reading): Promise<Outcome | void> {
  const told = reading.kind === 'code'
    ? await driver().scan(reading.code)
    : await driver().unread(reading.kind === 'other_farm' ? 'other_farm' : 'not_ours', reading.kind === 'other_farm' ? reading.tag : '');
  return told ? SOUNDS[told.outcome] : undefined;
}
