/** Labelled now, later or never: asked wherever bags come to be. */
import { t } from '../i18n';
import { ChoiceGrid } from '../ui/Choice';
import { MOST_LABELS, newCodes } from './labels';

export type How = 'each' | 'group' | 'later' | 'never';

export function Labelling({ value, onPick, n }: { value: How; onPick: (how: How) => void; n: number }) {
  return (
    <div class="stack-close">
      <ChoiceGrid label={t('labelling')} value={value} onPick={(v) => onPick(v as How)}
        options={(['each', 'group', 'later', 'never'] as const).map((h) => ({ value: h, name: t(`labelling.${h}`), about: t(`labelling.${h}.about`) }))} />
      {value === 'each' && n > MOST_LABELS && <p class="wrong" role="alert">{t('labelling.too_many', { max: MOST_LABELS })}</p>}
    </div>
  );
}

/** Codes for the record's `to`; none where bags stay without labels. */
export const codesFor = (how: How, n: number): string[] =>
  how === 'each' ? newCodes('B', n) : how === 'group' ? newCodes('G', 1) : [];
