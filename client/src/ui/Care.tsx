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
    // A block: what a details holds is one item of a grid, and would be squeezed into the column of the mark.
    <details class="note note-care" style={{ display: 'block', paddingBlock: 0 }} open={open}>
      <summary><Mark kind="care" size={24} /> {t(`care.${word}.title`)}</summary>
      <p style={{ paddingBottom: 'var(--s3)' }}>{t(`care.${word}`)} {t('care.local')}</p>
    </details>
  );
}
