/** How many bags of a group: all, or some by count; the rest stay where they are. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';

interface Props {
  n: number;
  value: number | null;
  onChange: (some: number | null) => void;
  /** Start at "some" (a loss is rarely the whole group). */
  few?: boolean;
}

export function HowMany({ n, value, onChange, few }: Props) {
  const [text, setText] = useState(value === null ? '' : String(value));
  const set = (next: string): void => {
    setText(next);
    const x = Number(next);
    onChange(/^\d+$/.test(next.trim()) && x >= 1 && x <= n ? x : next.trim() === '' ? (few ? 1 : null) : NaN);
  };
  const step = (by: number): void => set(String(Math.min(n, Math.max(1, (value === null || Number.isNaN(value) ? (few ? 1 : n) : value) + by))));
  return (
    <fieldset class="card">
      <legend class="unseen">{t('many.label')}</legend>
      <div class="row">
        <button type="button" class="choice grow" aria-pressed={value === null} onClick={() => { setText(''); onChange(null); }}>{t('many.all', { n })}</button>
        <div class="row" style={{ flexWrap: 'nowrap' }}>
          <button type="button" class="btn btn-icon" aria-label={t('many.less')} onClick={() => step(-1)}>−</button>
          <input class="input" style={{ width: 'min(5.5rem, 30vw)', textAlign: 'center' }} inputMode="numeric" aria-label={t('many.some')} value={text} placeholder="…" onInput={(e) => set(e.currentTarget.value)} />
          <button type="button" class="btn btn-icon" aria-label={t('many.more')} onClick={() => step(1)}>+</button>
        </div>
      </div>
      {Number.isNaN(value) && <p class="wrong" role="alert">{t('many.wrong', { n })}</p>}
    </fieldset>
  );
}
