/**
 * The languages beside English: every id of en-GB, no other, the same parameters, the plural forms the language
 * has (Unicode CLDR, by the runtime's Intl). What is missing is listed by id, ready to be added.
 */
import { describe, expect, it } from 'vitest';
import gb from '../../../client/src/i18n/en-GB.json';
import gbRest from '../../../client/src/i18n/en-GB.rest.json';
import { LANGUAGES, num, speak, t } from '../../../client/src/i18n';
import { day, units, weight } from '../../../client/src/i18n/format';
import '../../../client/src/i18n/rest';

type Texts = Record<string, string>;
const FILES = import.meta.glob('../../../client/src/i18n/*.json', { eager: true, import: 'default' }) as Record<string, Texts>;
const file = (name: string): Texts => FILES[`../../../client/src/i18n/${name}.json`] ?? {};
const OTHERS = LANGUAGES.filter((lang) => !lang.startsWith('en'));

interface Shape { names: Set<string>; plurals: string[][] }

/** Parameters and the branches of each plural of a message, by its braces. */
function shape(text: string, into: Shape = { names: new Set(), plurals: [] }): Shape {
  for (let at = 0; at < text.length; at += 1) {
    if (text[at] !== '{') continue;
    let depth = 1;
    let end = at + 1;
    for (; depth > 0 && end < text.length; end += 1) depth += text[end] === '{' ? 1 : text[end] === '}' ? -1 : 0;
    if (depth) throw new Error(`a brace is not closed: ${text}`);
    const inner = text.slice(at + 1, end - 1);
    const [, name = '', kind, rest = ''] = /^\s*(\w+)\s*(?:,\s*(plural|select)\s*,([\s\S]*))?$/.exec(inner) ?? [];
    into.names.add(name);
    if (kind) {
      const keys: string[] = [];
      let from = 0;
      for (let i = 0; i < rest.length; i += 1) {
        if (rest[i] !== '{') continue;
        let deep = 1;
        let stop = i + 1;
        for (; deep > 0; stop += 1) deep += rest[stop] === '{' ? 1 : rest[stop] === '}' ? -1 : 0;
        keys.push(rest.slice(from, i).trim());
        shape(rest.slice(i + 1, stop - 1), into);
        from = stop;
        i = stop - 1;
      }
      if (kind === 'plural') into.plurals.push(keys);
    }
    at = end - 1;
  }
  return into;
}

describe.each(OTHERS)('%s', (lang) => {
  it.each([['', gb as Texts], ['.rest', gbRest as Texts]])('has every text of en-GB%s', (part, base) =>
    expect(Object.keys(base).filter((id) => !file(lang + part)[id])).toEqual([]));
  it.each([['', gb as Texts], ['.rest', gbRest as Texts]])('has no text that en-GB%s has not', (part, base) =>
    expect(Object.keys(file(lang + part)).filter((id) => !(id in base))).toEqual([]));

  const all = { ...file(lang), ...file(`${lang}.rest`) };
  const base: Texts = { ...gb, ...gbRest };
  it('has the same parameters', () => {
    const wrong = Object.keys(all).filter((id) => base[id] && [...shape(all[id] as string).names].sort().join() !== [...shape(base[id] as string).names].sort().join());
    expect(wrong.map((id) => `${id}: ${all[id]}`)).toEqual([]);
  });
  it('has the plural forms of its language', () => {
    const forms = new Intl.PluralRules(lang).resolvedOptions().pluralCategories;
    const wrong = Object.entries(all).filter(([, text]) => shape(text).plurals.some((keys) =>
      forms.some((form) => !keys.includes(form)) || keys.some((key) => !key.startsWith('=') && !(forms as string[]).includes(key))));
    expect(wrong.map(([id, text]) => `${id}: ${text}`)).toEqual([]);
  });
  it('leaves no sentence in English', () => {
    // Names, units and short words may be the same; a sentence of four words is not.
    expect(Object.keys(all).filter((id) => all[id] === base[id] && /(?:[a-z]{2,}\s+){3}[a-z]{2,}/.test(base[id] as string))).toEqual([]);
  });
});

it('American English spells and names as Americans do', () => {
  const all: Texts = { ...gb, ...gbRest, ...file('en-US') };
  const british = /colour|\bgrey|mould|litre|metre|sterilis|colonis|neighbour|sulph|labelled|trolley|\bcrate|cold store/i;
  expect(Object.keys(all).filter((id) => british.test((all[id] as string).replace(/\{\w+/g, '')))).toEqual([]);
});

it('numbers, dates and words change with the language, units do not', async () => {
  const at = Date.UTC(2025, 5, 12, 12);
  await speak('es');
  units.value = 'metric';
  expect([num(12345.5), day(at, at), t('name.bags', { n: 1 }), weight(850)]).toEqual(['12.345,5', '12 jun', '1 bolsa', '850 g']);
  units.value = 'us';
  expect(weight(454)).toBe('1 lb');
  units.value = 'metric';
  await speak('zh-CN');
  expect([num(12345.5), day(at, at), t('name.bags', { n: 1 })]).toEqual(['12,345.5', '6月12日', '1 个菌包']);
  await speak('vi');
  expect([num(12345.5), day(at, at), t('name.bags', { n: 1 })]).toEqual(['12.345,5', '12 thg 6', '1 bịch']);
  await speak('en-GB');
});
