/**
 * Every word on screen comes from here, by message id. en-GB is complete; en-US and en-AU hold only
 * what differs. The language is a signal, so a change redraws what is shown.
 */
import { signal } from '@preact/signals';
import gb from './en-GB.json';
import us from './en-US.json';
import au from './en-AU.json';
import { fill, type Params } from './message';

export const LANGUAGES = ['en-GB', 'en-US', 'en-AU'] as const;
export type Language = (typeof LANGUAGES)[number];

const BASE: Record<string, string> = gb;
const OVER: Record<Language, Record<string, string>> = { 'en-GB': {}, 'en-US': us, 'en-AU': au };

export const language = signal<Language>('en-GB');

const plurals = new Map<Language, Intl.PluralRules>();
const numbers = new Map<Language, Intl.NumberFormat>();

/** A whole or broken number as the language writes it: 1,500. */
export function num(n: number): string {
  const lang = language.value;
  let made = numbers.get(lang);
  if (!made) numbers.set(lang, (made = new Intl.NumberFormat(lang, { maximumFractionDigits: 2 })));
  return made.format(n);
}

export function has(id: string): boolean {
  return id in BASE || id in OVER[language.value];
}

/** The text of a message id; an unknown id shows itself, so that it is seen and never blank. */
export function t(id: string, params: Params = {}): string {
  const lang = language.value;
  const text = OVER[lang][id] ?? BASE[id];
  if (text === undefined) return id;
  if (!text.includes('{')) return text;
  let rules = plurals.get(lang);
  if (!rules) plurals.set(lang, (rules = new Intl.PluralRules(lang)));
  return fill(text, params, rules, num);
}

/** Message id of a record kind: `bag.moved` -> `kind.bag_moved.title`. */
export const kindId = (ty: string): string => `kind.${ty.replace('.', '_')}.title`;
export const fieldId = (ty: string, field: string): string => `field.${ty.replace('.', '_')}.${field}`;

/** The words of a kind; a kind from the future says so by its own name. */
export function kindName(ty: string): string {
  const id = kindId(ty);
  return has(id) ? t(id) : t('kind.unknown', { ty });
}

/** The words of a choice; a choice from the future shows its bare word. */
export function choiceName(list: string, word: string): string {
  const id = `choice.${list}.${word}`;
  return has(id) ? t(id) : word.replace(/_/g, ' ');
}
