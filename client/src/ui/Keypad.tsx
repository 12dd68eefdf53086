/** A scale's display and its keys: grams large enough for wet gloves; typing and pasting work as well. */
import { useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { units, weight } from '../i18n/format';
import { Icon } from './Icon';
import { Mark } from './Mark';
import { ErrorNote } from './Notes';
import type { Weighed, WeightUnit } from './weight';

interface Props {
  text: string;
  unit: WeightUnit;
  weighed: Weighed;
  onText: (text: string) => void;
  onUnit: (unit: WeightUnit) => void;
  label: string;
  /** Show what is wrong also before the person tried to save. */
  tried: boolean;
  /** Words of the save key, which stands beside the figures. */
  save: string;
  busy: boolean;
  onSave: () => void;
}

export const keypadUnits = (): WeightUnit[] => (units.value === 'us' ? ['oz', 'lb', 'g'] : ['g', 'kg']);

/** "1.5 kg (1,500 g)": an amount named twice where the two readings differ in size. */
export const bothWays = (g: number): string =>
  g >= 1000 ? t('weight.both', { kg: num(g / 1000), g: num(g) }) : t('unit.g', { n: num(g) });

export function Keypad({ text, unit, weighed, onText, onUnit, label, tried, save, busy, onSave }: Props) {
  const all = keypadUnits();
  const other = all[(all.indexOf(unit) + 1) % all.length] ?? 'g';
  const [id] = useState(() => `pad${Math.random().toString(36).slice(2, 8)}`);
  const press = (key: string): void => onText((text + key).slice(0, 12));
  const said = weighed.kind === 'grams' && (unit !== 'g' || !/^\d*$/.test(text)) ? t('weight.is', { weight: weight(weighed.grams), g: num(weighed.grams) }) : '';
  return (
    <div class="pad">
      <label class="unseen" for={id}>{label}</label>
      <div class="pad-shown">
        <input id={id} inputMode="none" autoComplete="off" enterKeyHint="done" value={text} dir="ltr"
          aria-describedby={`${id}s`} onInput={(e) => onText(e.currentTarget.value)} />
        <span>{unit}</span>
      </div>
      <p class="pad-said" id={`${id}s`} aria-live="polite">{said}</p>
      {weighed.kind === 'ask' && (
        <div class="note note-ask" role="alert">
          <Mark kind="ask" />
          <strong>{t('weight.ask', { text })}</strong>
          <div class="row">
            {weighed.options.map((g) => (
              <button type="button" class="btn grow" key={g} onClick={() => { onUnit('g'); onText(String(g)); }}>{bothWays(g)}</button>
            ))}
            <button type="button" class="btn btn-bare" onClick={() => onText('')}>{t('weight.again')}</button>
          </div>
        </div>
      )}
      {weighed.kind === 'wrong' && (tried || weighed.why === 'negative' || weighed.why === 'not_number' || weighed.why === 'too_big') && (
        <ErrorNote what={t(`weight.wrong.${weighed.why}`, { text })} todo={t(`weight.wrong.${weighed.why}.todo`)} />
      )}
      <div class="pad-keys">
        {['1', '2', '3', '4', '5', '6', '7', '8', '9'].map((k) => (
          <button type="button" key={k} onClick={() => press(k)}>{k}</button>
        ))}
        {unit === 'g'
          ? <button type="button" onClick={() => press('00')}>00</button>
          : <button type="button" onClick={() => press('.')} aria-label={t('weight.point')}>.</button>}
        <button type="button" onClick={() => press('0')}>0</button>
        <button type="button" class="pad-unit" onClick={() => onUnit(other)}><span class="unseen">{t('weight.unit', { unit: t(`unit.name.${other}`) })} </span>→ {other}</button>
        <button type="button" class="pad-erase" aria-label={t('weight.erase')} onClick={() => onText(text.slice(0, -1))}><Icon name="erase" size={30} /></button>
        <button type="button" class="pad-save" disabled={busy} onClick={onSave}>{save}</button>
      </div>
    </div>
  );
}
