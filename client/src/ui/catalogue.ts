/** Short ways into the catalogue for screens. */
import { fieldOf, kindOf, type Field } from '../catalogue';

export { ENDS, KINDS, STAGES, kindOf as kind } from '../catalogue';
export type { Field, Kind } from '../catalogue';

export function field(kindName: string, name: string): Field {
  const found = fieldOf(kindOf(kindName), name);
  if (!found) throw new Error(`${kindName} has no field ${name}`);
  return found;
}

export const choicesOf = (kindName: string, name: string): string[] => field(kindName, name).choices ?? [];
