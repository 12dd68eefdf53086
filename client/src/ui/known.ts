/** Codes this device knows by heart: the ones a slip of the finger is compared with. */
import { app } from './app';

export function known(code: string): boolean {
  const a = app();
  const { places, spawn, loads, people } = a.ref.value;
  return [places, spawn, loads, people].some((table) => code in table) || a.batchName(code) !== null || a.partLabel(code) !== null;
}
