/**
 * The catalogue as data, exported by the server's `bagtrail catalogue`; read by fold, check and forms. Its `doc`
 * and `example` are not shipped, nor what is as most kinds have it (vite/catalogue.ts).
 */
import data from './catalogue.json';
import type { Step } from './upcast';

export interface Field {
  name: string;
  type: string;
  required?: boolean;
  unit?: string;
  min?: number;
  max?: number;
  choices?: string[];
  letters?: string[];
  rows?: Field[];
}

/** ["stage", "fruiting"], ["put", "bad", ["sign", "where"]], ...: see server/bagtrail/catalogue/model.py. */
export type Effect = [string, ...unknown[]];

export interface Kind {
  name: string;
  version: number;
  sub: string[];
  subs: [number, number];
  timed: boolean;
  alive: boolean;
  reach: string;
  rules: string[];
  effects: Effect[];
  fields: Field[];
  /** For each older version the steps to the next one. */
  upcasts?: Step[][];
}

interface Catalogue {
  stages: string[];
  ends: string[];
  kinds: Record<string, Partial<Omit<Kind, 'fields'>> & { fields?: (Field | Packed)[] }>;
}

/** A field as it is shipped: name, type, what else there is. */
type Packed = [string, string, Partial<Field>?];

const catalogue = data as unknown as Catalogue;

function unpacked(fields: (Field | Packed)[] = []): Field[] {
  return fields.map((field) => {
    if (!Array.isArray(field)) return field;
    const [name, type, more] = field;
    return { ...more, name, type, ...(more?.rows ? { rows: unpacked(more.rows) } : {}) };
  });
}

export const STAGES: readonly string[] = catalogue.stages;
export const ENDS: readonly string[] = catalogue.ends;
/** A map, so that a kind named "constructor" by a strange record is none of ours. */
export const KINDS: ReadonlyMap<string, Kind> = new Map(Object.entries(catalogue.kinds).map(([name, kind]) => [name, {
  version: 1, sub: [], subs: [1, 1000], timed: true, alive: false, reach: '', rules: [], effects: [], ...kind, name, fields: unpacked(kind.fields),
}]));

/** Whole numbers beyond it are not exact in JavaScript. */
export const MAX_SAFE = Number.MAX_SAFE_INTEGER;
/** The latest ms that thirteen digits of the order key can hold. */
export const MAX_MS = 9_999_999_999_999;

/** The kind of a line that is known to be foldable. */
export function kindOf(name: string): Kind {
  const kind = KINDS.get(name);
  if (!kind) throw new Error(`the catalogue has no kind ${name}`);
  return kind;
}

export function fieldOf(kind: Kind, name: string): Field | undefined {
  return kind.fields.find((field) => field.name === name);
}
