/** What is wrong and what to do; what needs care; both with a shape of their own. */
import type { ComponentChildren } from 'preact';
import { t } from '../i18n';
import { Mark } from './Mark';

export function ErrorNote({ what, todo }: { what: string; todo?: string }) {
  return (
    <div class="note note-bad" role="alert">
      <Mark kind="bad" />
      <strong dir="auto">{what}</strong>
      {todo && <span dir="auto">{todo}</span>}
    </div>
  );
}

export function AskNote({ what, children }: { what: string; children?: ComponentChildren }) {
  return (
    <div class="note note-ask" role="alert">
      <Mark kind="ask" />
      <strong dir="auto">{what}</strong>
      {children && <div class="stack-close">{children}</div>}
    </div>
  );
}

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
