/** What needs care before an act: folded, in the trade's words, with where to ask. */
import { t } from '../i18n';
import { Mark } from './Mark';

/** Which caution belongs to which act; the sentences are `care.<word>`. */
const CARE: Record<string, string> = {
  'bag.soaked': 'foreign_bodies',
  'batch.mixed': 'dust',
  'bag.filled': 'lifting',
  'load.begun': 'steam lifting',
  'load.ran': 'steam lifting',
  'load.filled': 'steam lifting',
  vessel: 'vessel',
  'bag.inoculated': 'flame',
  'bag.contaminated': 'mould',
  'bag.opened': 'spores',
  'bag.harvested': 'spores foreign_bodies',
  'crop.packed': 'foreign_bodies',
  'place.moved': 'lifting',
  room: 'co2',
  room_fruiting: 'co2 spores',
};

/** `open`: the sentence itself, where the hand does the act next. */
export function Care({ of, open = false }: { of: string; open?: boolean }) {
  const words = CARE[of] ?? (of === 'lime' ? of : '');
  return <>{words.split(' ').filter(Boolean).map((word) => <One key={word} word={word} open={open} />)}</>;
}

function One({ word, open }: { word: string; open: boolean }) {
  return (
    <details class="note note-care" open={open}>
      <summary style={{ gridColumn: '1 / -1', minHeight: '40px' }}><Mark kind="care" size={24} /> {t(`care.${word}.title`)}</summary>
      <p style={{ gridColumn: '1 / -1' }}>{t(`care.${word}`)} {t('care.local')}</p>
    </details>
  );
}
