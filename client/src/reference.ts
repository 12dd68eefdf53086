/**
 * Reference data (places, strains, lots, people): the later record wins, field by field.
 * The twin of server/bagtrail/reference.py. Where one writer had not seen the other, a question is asked.
 */
import { KINDS } from './catalogue';
import type { Ask } from './life';
import type { Data, Line } from './line';
import { seen } from './rules';

export const COLLECTIONS = ['places', 'strains', 'materials', 'spawn', 'recipes', 'loads', 'people', 'devices',
  'settings', 'plans', 'vessels'] as const;

/** Kind -> the collection its subject is an entry of. */
export const REFERENCES: ReadonlyMap<string, string> = new Map(
  [...KINDS.values()].flatMap((kind): [string, string][] => {
    const effect = kind.effects.find(([verb]) => verb === 'ref');
    if (effect) return [[kind.name, effect[1] as string]];
    if (kind.rules.includes('store')) return [[kind.name, 'materials']];
    return kind.rules.includes('device') ? [[kind.name, 'devices']] : [];
  }),
);

/** Folds reference lines, given in order: {collection: {code: {field: value}}} and questions. */
export function reference(lines: Line[], epochs: readonly string[]): { ref: Record<string, Data>; questions: Ask[] } {
  // A device's id is any text of a record: without a prototype no name is special.
  const ref: Record<string, Data> = Object.fromEntries(COLLECTIONS.map((name) => [name, Object.create(null)]));
  const last = new Map<string, Line>();
  const questions = new Map<string, Ask>();
  const taken = new Map<string, number>();
  for (const line of lines) {
    if (line.k === 'material.taken') {
      const lot = line.s[0] as string;
      taken.set(lot, (taken.get(lot) ?? 0) + line.d['g']);
      continue;
    }
    const name = REFERENCES.get(line.k) as string;
    const entries = ref[name] as Data;
    let { d } = line;
    let code = line.s[0] ?? 'farm';
    if (name === 'devices') {
      code = d['dev'];
      if (line.k === 'device.revoked') {
        (entries[code] ??= {})['revoked'] = line.t;
        continue;
      }
      delete entries[code]?.['revoked'];
      d = { ...d, person: line.s[0] };
    }
    const entry: Data = (entries[code] ??= { made: line.t });
    for (const [field, value] of Object.entries(d)) {
      const slot = `${field} ${code}`;
      const before = last.get(slot);
      if (before && !same(entry[field], value) && !seen(line, before, epochs)) {
        const id = `reference:${before.id}:${line.id}`;
        questions.set(id, { id, rule: 'reference', recs: [before.id, line.id], sub: line.s });
      }
      entry[field] = value;
      last.set(slot, line);
    }
    if (KINDS.get(line.k)?.rules.includes('load')) {
      entry['holds'] = [...new Set([...(entry['holds'] ?? []), ...line.s.slice(1)])];
      if ('result' in line.d) entry['ran'] ??= line.t;
    }
  }
  // What is left of a lot may go below 0: the count is then to be corrected, never hidden.
  for (const [code, entry] of Object.entries(ref['materials'] as Data)) {
    if ('mass_g' in entry) entry['left_g'] = entry['mass_g'] - (taken.get(code) ?? 0);
  }
  return { ref, questions: [...questions.values()] };
}

/** Equality of JSON values as Python has it: the order of members does not matter. */
function same(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (typeof a !== 'object' || typeof b !== 'object' || !a || !b || Array.isArray(a) !== Array.isArray(b)) return false;
  const keys = Object.keys(a);
  return keys.length === Object.keys(b).length
    && keys.every((key) => Object.hasOwn(b, key) && same((a as Data)[key], (b as Data)[key]));
}
