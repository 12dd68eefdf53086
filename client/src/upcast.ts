/**
 * From an older version of a kind to that of today: what is stored never changes, its reading does. The steps
 * stand in the kind's entry as data; the twin of server/bagtrail/catalogue/upcast.py, which explains them.
 */
import type { Kind } from './catalogue';
import { isInt } from './check';
import type { Data } from './line';

/** ["name", old, new], ["fill", field, value], ["drop", field], ["times", field, n], ["word", field, old, new]. */
export type Step = [verb: string, field: string, ...more: any[]];

/** A record's data as the kind of today has it; the data given is left as it is. `version` is from 1 to the kind's. */
export function upcast(kind: Kind, version: number, given: Data): Data {
  const d = { ...given };
  const has = (field: string): boolean => Object.hasOwn(d, field);
  for (const [verb, field, a, b] of (kind.upcasts ?? []).slice(version - 1).flat()) {
    if (verb === 'name' && has(field)) {
      d[a] = d[field];
      delete d[field];
    } else if (verb === 'fill' && !has(field)) d[field] = a;
    else if (verb === 'drop') delete d[field];
    else if (verb === 'times' && isInt(d[field])) d[field] *= a;
    else if (verb === 'word' && has(field) && d[field] === a) d[field] = b;
  }
  return d;
}
