import type { Plugin } from 'vite';

interface Catalogue {
  kinds: Record<string, Record<string, unknown>>;
}

/** What only readers of the catalogue and tests look at: almost half of it. */
const NOT_SHIPPED = ['doc', 'example'];

/** Leaves the catalogue's explanations and examples out of what phones download. */
export function slimCatalogue(): Plugin {
  return {
    name: 'bagtrail:catalogue',
    apply: 'build',
    enforce: 'pre',
    transform(code, id) {
      if (!/[\\/]src[\\/]catalogue\.json$/.test(id)) return null;
      const catalogue = JSON.parse(code) as Catalogue;
      for (const kind of Object.values(catalogue.kinds)) NOT_SHIPPED.forEach((name) => delete kind[name]);
      return { code: JSON.stringify(catalogue), map: null };
    },
  };
}
