/** An invented label of each type, to look at before there is one. */
import type { Label } from '../app-types';
import { t } from '../i18n';
import { day } from '../i18n/format';
import { onLabel } from './words';

// Right codes of nothing: seven noughts and their check symbol, the number one before it.
const CODES: Record<string, string> = { B: 'B0000001K' };

/** `codeOf` makes a code of a letter where none of ours is known. */
export const sampleOf = (letter: string, codeOf: (letter: string) => string): Label => onLabel(() => sample(letter, codeOf));

function sample(letter: string, codeOf: (letter: string) => string): Label {
  const code = CODES[letter] ?? codeOf(letter);
  const word = t(`tag.${letter}`);
  const made = day(Date.UTC(2026, 5, 12, 12));
  const what = t('label_set.sample.strain');
  switch (letter) {
    case 'B': return { code, batch: t('label_set.sample.batch'), number: 'A12', what, day: made, free: t('label_set.sample.free') };
    case 'G': return { code, word, batch: t('label_set.sample.batch'), number: t('name.bags', { n: 60 }), what, day: made, free: t('label_set.sample.free') };
    case 'P': return { code, word: t('choice.type.shelf'), sort: 'shelf', title: t('label_set.sample.place'), what: t('choice.type.room') };
    case 'S': return { code, word, title: what, number: 'G2', what: t('choice.carrier.grain'), day: made };
    case 'M': return { code, word, title: t('label_set.sample.batch'), day: made };
    default: return { code, word, title: letter === 'W' ? t('label_set.sample.person') : '', day: made };
  }
}
