import type { Plugin } from 'vite';

interface Catalogue {
  kinds: Record<string, Record<string, unknown>>;
}

/** What only readers of the catalogue and tests look at: almost half of it. */
const NOT_SHIPPED = ['doc', 'example', 'name'];

/** What most kinds are; catalogue.ts puts it back where it is left out. */
const USUAL: Record<string, unknown> = {
  version: 1, subs: [1, 1000], timed: true, alive: false, reach: '', rules: [], effects: [], fields: [],
};

interface Packable { name: string; type: string; rows?: Packable[] }

/** Fields as [name, type, what else there is]: their names for the two are said hundreds of times; catalogue.ts reads both. */
function packed(fields: Packable[]): unknown[] {
  return fields.map(({ name, type, ...more }) => {
    if (more.rows) Object.assign(more, { rows: packed(more.rows) });
    return Object.keys(more).length ? [name, type, more] : [name, type];
  });
}

/** Leaves the catalogue's explanations, examples and defaults out of what phones download. */
export function slimCatalogue(): Plugin {
  return {
    name: 'bagtrail:catalogue',
    apply: 'build',
    enforce: 'pre',
    transform(code, id) {
      if (!/[\\/]src[\\/]catalogue\.json$/.test(id)) return null;
      const catalogue = JSON.parse(code) as Catalogue;
      for (const kind of Object.values(catalogue.kinds)) {
        NOT_SHIPPED.forEach((name) => delete kind[name]);
        // Lists of rows have screens of their own, which know their units.
        for (const field of (kind['fields'] ?? []) as { rows?: { unit?: string }[] }[]) field.rows?.forEach((row) => { delete row.unit; });
        kind['fields'] = packed((kind['fields'] ?? []) as Packable[]);
        for (const [name, value] of Object.entries(USUAL)) if (JSON.stringify(kind[name]) === JSON.stringify(value)) delete kind[name];
      }
      return { code: JSON.stringify(catalogue), map: null };
    },
  };
}
