/** The one App the screens talk to, and this device's own preferences (kept in localStorage only). */
import { effect, signal } from '@preact/signals';
import type { App } from '../app-types';
import { language, LANGUAGES, speak, type Language } from '../i18n';
import { units, zone, type Units } from '../i18n/format';

let current: App | null = null;

export function setApp(made: App): void {
  current = made;
}

export function app(): App {
  if (!current) throw new Error('setApp() was not called before a screen asked for the app');
  return current;
}

export type Theme = 'auto' | 'light' | 'dim';
export type Hand = 'right' | 'left';
export const theme = signal<Theme>('auto');
export const hand = signal<Hand>('right');
/** A helper's phone: four acts and no more. */
export const helper = signal(false);

const KEY = 'bagtrail.prefs';

interface Prefs { language: Language; units: Units; theme: Theme; hand: Hand; helper: boolean }

function browserLanguage(): Language {
  const wanted = navigator.languages ?? [navigator.language];
  for (const w of wanted) {
    const found = LANGUAGES.find((l) => l.toLowerCase() === w.toLowerCase());
    if (found) return found;
    // Spanish of anywhere, Chinese in simplified signs, Vietnamese: the one there is.
    const near = LANGUAGES.find((l) => !l.startsWith('en') && l.split('-')[0] === w.toLowerCase().split('-')[0]);
    if (near && !/^zh-(tw|hk|mo|hant)/i.test(w)) return near;
  }
  return 'en-GB';
}

function load(): Prefs {
  const lang = browserLanguage();
  const base: Prefs = { language: lang, units: lang === 'en-US' ? 'us' : 'metric', theme: 'auto', hand: 'right', helper: false };
  try {
    return { ...base, ...(JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<Prefs>) };
  } catch {
    // Storage barred or the text broken: the defaults serve; nothing of the farm is kept here.
    return base;
  }
}

/**
 * Reads the preferences and keeps page, storage and signals in step from then on. Draw once it resolves: the
 * texts of the language are there then.
 */
export async function startPrefs(): Promise<void> {
  const kept = load();
  await speak(LANGUAGES.includes(kept.language) ? kept.language : 'en-GB');
  units.value = kept.units === 'us' ? 'us' : 'metric';
  theme.value = ['auto', 'light', 'dim'].includes(kept.theme) ? kept.theme : 'auto';
  hand.value = kept.hand === 'left' ? 'left' : 'right';
  helper.value = kept.helper === true;
  const dark = matchMedia('(prefers-color-scheme: dark)');
  const darkNow = signal(dark.matches);
  dark.addEventListener('change', (e) => { darkNow.value = e.matches; });
  effect(() => {
    const root = document.documentElement;
    const dim = theme.value === 'dim' || (theme.value === 'auto' && darkNow.value);
    root.dataset['theme'] = dim ? 'dim' : 'light';
    root.dataset['hand'] = hand.value;
    root.lang = language.value;
    document.querySelector('meta[name=theme-color]')?.setAttribute('content', dim ? '#0d110f' : '#e9eeea');
    try {
      localStorage.setItem(KEY, JSON.stringify({
        language: language.value, units: units.value, theme: theme.value, hand: hand.value, helper: helper.value,
      } satisfies Prefs));
    } catch {
      // Private mode: the choice holds until the page is closed.
    }
  });
  effect(() => {
    const farm = current?.ref.value.settings['zone'] ?? current?.device.value?.zone;
    if (typeof farm === 'string' && farm) zone.value = farm;
  });
}
