/**
 * In which language the farm's labels speak: the one chosen with its paper, whichever phone prints them. Where
 * none is chosen, or one that has no texts here, it is the phone's own.
 */
import { effect, signal } from '@preact/signals';
import { LANGUAGES, language, learn, saidIn, type Language } from '../i18n';
import { app } from '../ui/app';

/** "es-MX" is our Spanish; "zh-TW" is another script than ours, and no guess. */
export function labelLanguage(): Language {
  const said = String(app().ref.value.settings['label_language'] ?? '').toLowerCase();
  const [first = '', more] = said.split('-');
  return LANGUAGES.find((one) => one.toLowerCase() === said)
    ?? (first === 'zh' && more ? undefined : LANGUAGES.find((one) => one.split('-')[0] === first))
    ?? language.value;
}

/** Counts up as texts come in, so that what was drawn without them is drawn again. */
const here = signal(0);
const asked = new Set<Language>();

/** What `make` says in the labels' language. It must say it at once: no promise. */
export function onLabel<T>(make: () => T): T {
  void here.value;
  const wanted = labelLanguage();
  if (!asked.has(wanted)) {
    asked.add(wanted);
    void learn(wanted).then(() => { here.value += 1; });
  }
  return saidIn(wanted, make);
}

/** Fetches the texts as soon as the farm's choice is known: printing begins in the middle of an act. */
export const readyLabels = (): (() => void) => effect(() => onLabel(() => undefined));
