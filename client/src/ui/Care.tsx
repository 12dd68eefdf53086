/** What needs care before an act: folded, in the trade's words, with where to ask. */
import { t } from '../i18n';
import { Mark } from './Mark';

/** Which caution belongs to which act; the sentences are `care.<word>`. */
const CARE: Record<string, string> = {
  'batch.mixed': 'dust',
  'bag.filled': 'lifting',
  'load.ran': 'steam',
  'bag.inoculated': 'flame',
  'bag.contaminated': 'mould',
  'bag.opened': 'spores',
  'bag.harvested': 'spores',
  'place.moved': 'lifting',
  room: 'co2',
};

export function Care({ of }: { of: string }) {
  const word = CARE[of] ?? of;
  if (!CARE[of] && word !== 'lime') return null;
  return (
    <details class="note note-care">
      <summary style={{ gridColumn: '1 / -1', minHeight: '40px' }}><Mark kind="care" size={24} /> {t(`care.${word}.title`)}</summary>
      <p style={{ gridColumn: '1 / -1' }}>{t(`care.${word}`)} {t('care.local')}</p>
    </details>
  );
}
