/** The ingredients of a mix, each as a share of total dry mix; the sum stands below, for it should be 100 %. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { percent } from '../i18n/format';
import { refuse } from '../trade/carbide';
import { Care } from './Care';
import { Icon } from './Icon';
import { ErrorNote } from './Notes';
import { decimal } from './validate';

export interface PartRow { name: string; share: number }

interface Typed { name: string; share: string }

// Hydrated lime burns skin and eyes (ICSC 0408); the caution shows as soon as a name says lime.
const LIME = /\blime\b|calcium hydroxide|ca\(oh\)/i;

export function PartsEditor({ label, rows, onChange }: { label: string; rows: PartRow[]; onChange: (rows: PartRow[]) => void }) {
  const [typed, setTyped] = useState<Typed[]>(rows.length
    ? rows.map((r) => ({ name: r.name, share: String(r.share / 100) }))
    : [{ name: '', share: '' }, { name: '', share: '' }, { name: '', share: '' }]);
  const tell = (next: Typed[]): void => {
    setTyped(next);
    onChange(next.flatMap((r) => {
      const share = decimal(r.share);
      return r.name.trim() && !refuse(r.name) && share !== null && share > 0 ? [{ name: r.name.trim(), share: Math.round(share * 100) }] : [];
    }));
  };
  const change = (i: number, part: Partial<Typed>): void => tell(typed.map((r, at) => (at === i ? { ...r, ...part } : r)));
  const sum = rows.reduce((s, r) => s + r.share, 0);
  return (
    <fieldset class="stack-close">
      <legend>{label} <span class="must">{t('parts.basis')}</span></legend>
      {typed.map((r, i) => (
        <div class="input-unit" style={{ gridTemplateColumns: 'minmax(0,1fr) 6.5rem auto' }} key={i}>
          <input class="input" dir="auto" aria-label={t('parts.name', { n: i + 1 })} value={r.name} onInput={(e) => change(i, { name: e.currentTarget.value })} />
          <input class="input" inputMode="decimal" aria-label={t('parts.share', { n: i + 1 })} value={r.share} onInput={(e) => change(i, { share: e.currentTarget.value })} />
          <span>%</span>
        </div>
      ))}
      <div class="row">
        <button type="button" class="btn" onClick={() => setTyped([...typed, { name: '', share: '' }])}><Icon name="plus" />{t('parts.more')}</button>
        <span class={sum && sum !== 10_000 ? 'wrong' : 'quiet'}>{sum === 0 ? '' : sum === 10_000 ? t('parts.sum_right') : t('parts.sum_wrong', { sum: percent(sum) })}</span>
      </div>
      {typed.map((r) => refuse(r.name)).filter((x) => x !== null).map((x) => <ErrorNote key={x.name} what={t('finding.carbide', { about: x.name })} todo={t(`mix.meant.${x.meant[0]}`)} />)}
      {typed.some((r) => LIME.test(r.name)) && <Care of="lime" />}
    </fieldset>
  );
}
