/**
 * Every word on screen comes from here, by message id. en-GB is complete, in two files: the words of the first
 * screen, and the rest, which come with the screens that say them (rest.ts). en-US and en-AU hold only what
 * differs, the other languages hold all of it; they are fetched where chosen. The language is a signal, so a change redraws what is shown.
 */
import { signal } from '@preact/signals';
import gb from './en-GB.json';
import { fill, type Params } from './message';

export const LANGUAGES = ['en-GB', 'en-US', 'en-AU', 'es', 'zh-CN', 'vi'] as const;
export type Language = (typeof LANGUAGES)[number];

type Texts = Record<string, string>;

const BASE: Texts = { ...gb };
const OVER: Partial<Record<Language, Texts>> = {};
const FETCH: Partial<Record<Language, () => Promise<{ default: Texts }>>> = {
  'en-US': () => import('./en-US.json'),
  'en-AU': () => import('./en-AU.json'),
  es: () => both(import('./es.json'), import('./es.rest.json')),
  'zh-CN': () => both(import('./zh-CN.json'), import('./zh-CN.rest.json')),
  vi: () => both(import('./vi.json'), import('./vi.rest.json')),
};

/** A language of its own has the same two files as en-GB. */
async function both(...parts: Promise<{ default: Texts }>[]): Promise<{ default: Texts }> {
  return { default: Object.assign({}, ...(await Promise.all(parts)).map((part) => part.default)) as Texts };
}

export const language = signal<Language>('en-GB');

/** Adds texts of en-GB to those that are here. */
export function addTexts(texts: Texts): void {
  Object.assign(BASE, texts);
}

let lent: Language | null = null;

/** The language of what is said now: the phone's, or that of a label that is being made. */
export const spoken = (): Language => lent ?? language.value;

/** What `make` says in another language, whose texts are here (`learn`). At once: no promise. */
export function saidIn<T>(other: Language, make: () => T): T {
  const before = lent;
  lent = other;
  try {
    return make();
  } finally {
    lent = before;
  }
}

/**
 * Changes to a language, once its texts are here. Where they cannot be had, dates and numbers change all the
 * same, and what is British stays readable; the next start tries again. Never throws.
 */
export async function speak(wanted: Language): Promise<void> {
  await learn(wanted);
  language.value = wanted;
}

/** Fetches the texts of a language, if they are not here. Never throws. */
export async function learn(wanted: Language): Promise<void> {
  try {
    OVER[wanted] ??= (await FETCH[wanted]?.())?.default ?? {};
  } catch (error) {
    console.warn(`the texts of ${wanted} could not be fetched`, error);
  }
}

const plurals = new Map<Language, Intl.PluralRules>();
const numbers = new Map<Language, Intl.NumberFormat>();

/** A whole or broken number as the language writes it: 1,500. */
export function num(n: number): string {
  const lang = spoken();
  let made = numbers.get(lang);
  if (!made) numbers.set(lang, (made = new Intl.NumberFormat(lang, { maximumFractionDigits: 2 })));
  return made.format(n);
}

export function has(id: string): boolean {
  return id in BASE || id in (OVER[spoken()] ?? {});
}

/** The text of a message id; an unknown id shows itself, so that it is seen and never blank. */
export function t(id: string, params: Params = {}): string {
  const lang = spoken();
  const text = OVER[lang]?.[id] ?? BASE[id];
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
