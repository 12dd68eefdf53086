/** Names of things with codes, as people know them; a code nobody named shows itself. */
import type { Part, Ref } from '../app-types';
import { t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { app } from './app';

const named = (table: keyof Omit<Ref, 'settings'>, code: string): string | null => {
  const name = app().ref.value[table][code]?.['name'];
  return typeof name === 'string' && name ? name : null;
};

export const strainName = (id: string | undefined): string =>
  id ? named('strains', id) ?? t('name.unknown_strain') : t('name.no_strain');

export const placeName = (code: string | null | undefined): string =>
  code ? named('places', code) ?? spacedCode(code) : t('name.no_place');

/** "Shelf 3, Rack 2, Room 1": the nearest first, as one says it; a ring in the data ends the walk. */
export function placePath(code: string | null | undefined): string {
  if (!code) return t('name.no_place');
  const names: string[] = [];
  const passed = new Set<string>();
  for (let at: string | undefined = code; at && !passed.has(at) && names.length < 5;) {
    passed.add(at);
    names.push(placeName(at));
    const up: unknown = app().ref.value.places[at]?.['within'];
    at = typeof up === 'string' ? up : undefined;
  }
  return names.join(', ');
}

export const personName = (code: string | undefined): string =>
  code ? named('people', code) ?? spacedCode(code) : '';

/** A spawn lot: its strain and code, for lots have no name of their own. */
export function spawnName(code: string): string {
  const strain = app().ref.value.spawn[code]?.['strain'];
  return t('name.spawn', { strain: typeof strain === 'string' ? strainName(strain) : t('name.unknown_strain'), code: spacedCode(code) });
}

/** What a part is called: its number, else how many bags it stands for. */
export function partName(code: string, part: Pick<Part, 'n' | 'num'>): string {
  if (part.num) return t('name.bag', { num: part.num });
  if (code.startsWith('B')) return t('name.bag', { num: spacedCode(code) });
  return t('name.bags', { n: part.n });
}

/** Any code in words, as far as this phone knows it. */
export function anyName(code: string): string {
  if (code.startsWith('strain-')) return strainName(code);
  if (code.startsWith('material-')) return named('materials', code) ?? t('name.unknown');
  if (code.startsWith('plan-')) return named('plans', code) ?? t('name.unknown');
  if (code.startsWith('vessel-')) return named('vessels', code) ?? t('name.unknown');
  if (code.startsWith('recipe-')) return named('recipes', code) ?? t('name.unknown');
  if (code.startsWith('B') || code.startsWith('G') || code.startsWith('g-')) {
    const known = app().partLabel(code);
    if (!known) return code.startsWith('g-') ? t('name.group') : spacedCode(code);
    return known.num ? t('name.bag_of', { num: known.num, batch: known.batch }) : t('name.bags_of', { n: known.n, batch: known.batch });
  }
  switch (code[0]) {
    case 'P': return placeName(code);
    case 'W': return personName(code);
    case 'S': return spawnName(code);
    case 'M': return app().batchName(code) ?? spacedCode(code);
    default: return spacedCode(code);
  }
}
