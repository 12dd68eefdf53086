/** What the mix screens share: findings and faults in words, amounts typed and said in the farm's units. */
import { useState } from 'preact/hooks';
import { language, num, t } from '../i18n';
import { GRAMS_LB, percent, units, weight } from '../i18n/format';
import { Unfit, type Finding, type Values } from '../trade/findings';
import { number, read, said, type Quantity } from '../trade/units';
import { halfUp } from '../trade/whole';
import { app } from '../ui/app';
import { Mark } from '../ui/Mark';

/** Which unit counts for a number typed without one. */
export const unitFor = (quantity: Quantity): string => {
  const us = units.value === 'us';
  switch (quantity) {
    case 'volume': return us ? 'gal' : 'L';
    case 'temperature': return us ? '°F' : '°C';
    case 'pressure': return us ? 'psi' : 'kPa';
    case 'length': return us ? 'ft' : 'm';
    case 'density': return us ? 'lb/ft³' : 'g/L';
    default: return us ? 'lb' : 'kg';
  }
};

/** A whole number of a quantity in the farm's unit: "95.27 kg", "21.4 gal". */
export const tell = (n: number, quantity: Quantity): string =>
  (quantity === 'mass' ? weight(n) : `${num(said(n, unitFor(quantity), 1) / 10)} ${unitFor(quantity)}`);

/** Kilograms with all three places, in the point or comma of the language. */
const toGram = (g: number): string => (g / 1_000).toLocaleString(language.value, { minimumFractionDigits: 3, maximumFractionDigits: 3 });

/** An amount to the gram with no idle noughts: "2,400 kg", "79.022 kg". */
export const exact = (g: number): string => (units.value === 'us' ? scale(g) : t('unit.kg', { n: (g / 1_000).toLocaleString(language.value, { maximumFractionDigits: 3 }) }));

/** Grams as a scale shows them: to the gram, or to the hundredth of a pound. */
export const scale = (g: number): string =>
  (units.value === 'us' ? (Math.abs(g) < 20 * GRAMS_LB ? weight(g) : t('unit.lb', { n: num(Math.round((g / GRAMS_LB) * 100) / 100) })) : g < 1_000 ? t('unit.g', { n: num(g) }) : t('unit.kg', { n: toGram(g) }));

const GRAMS = /(^|_)g$/;
const PERCENTS = new Set(['moisture', 'low', 'high', 'target', 'reached', 'n', 'spread', 'most', 'goal']);

/** A finding's values as its sentence shows them. */
export function shown(values: Values): Values {
  return Object.fromEntries(Object.entries(values).map(([name, value]) => [name,
    typeof value !== 'number' ? value : name === 'likely' ? ('fill_g' in values ? scale(value) : percent(value)) : GRAMS.test(name) || name === 'g' ? scale(value) : PERCENTS.has(name) ? percent(value) : value]));
}

/** The sentence of a finding: `finding.<code>`, with what it is about. */
export const sentence = (f: Finding): string => t(`finding.${f.code}`, { about: f.about, ...(f.code === 'lifting' ? roughly(f.values) : shown(f.values)) });

/** What a back has to lift needs no three places. */
const roughly = (values: Values): Values =>
  Object.fromEntries(Object.entries(values).map(([name, g]) => [name, typeof g === 'number' ? weight(g) : g]));

export function Findings({ of }: { of: readonly Finding[] }) {
  return <>{of.map((f, i) => (
    <p key={f.code + f.about + i} class={`note ${f.level === 'note' ? 'note-care' : f.level === 'warn' ? 'note-ask' : 'note-bad'}`} {...(f.level === 'note' ? {} : { role: 'alert' })}>
      <Mark kind={f.level === 'note' ? 'care' : f.level === 'warn' ? 'ask' : 'bad'} size={24} /><span dir="auto">{sentence(f)}</span>
    </p>
  ))}</>;
}

/** A question or a caution beside a field, with its mark. */
export function Beside({ text, kind = 'ask' }: { text: string; kind?: 'ask' | 'care' }) {
  return (
    <p class={`note note-${kind}`} {...(kind === 'ask' ? { role: 'alert' } : {})}><Mark kind={kind} size={24} /><span dir="auto">{text}</span></p>
  );
}

/** What a sum threw, in words; errors that are no `Unfit` are thrown on. */
export function faultWords(error: unknown): string {
  if (!(error instanceof Unfit)) throw error;
  return t(`unfit.${error.code}`, shown(error.values));
}

/** Runs a sum; its result, or the sentence of what no sum can be made from. */
export function attempt<T>(sum: () => T): { ok: T } | { wrong: string } {
  try {
    return { ok: sum() };
  } catch (error) {
    return { wrong: faultWords(error) };
  }
}

interface AmountProps { label: string; quantity: Quantity; value: number | null; onChange: (value: number | null) => void; hint?: string; unit?: string }

/** An amount typed with or without its unit ("5 lb 4 oz", "2,5 kg", "250"); says what it was read as. */
export function Amount({ label, quantity, value, onChange, hint, unit = unitFor(quantity) }: AmountProps) {
  const [text, setText] = useState(value === null ? '' : String(said(value, unit, 3) / 1_000));
  const [wrong, setWrong] = useState('');
  const take = (typed: string): void => {
    setText(typed);
    setWrong('');
    if (!typed.trim()) return onChange(null);
    const got = attempt(() => read(typed, quantity, unit));
    if ('ok' in got) return onChange(got.ok);
    setWrong(got.wrong);
    onChange(null);
  };
  return (
    <label class="field"><span class="field-label">{label}</span>
      {hint && <span class="hint">{hint}</span>}
      <span class="input-unit"><input class="input" inputMode="decimal" autoComplete="off" dir="ltr" value={text} aria-invalid={Boolean(wrong)} onInput={(e) => take(e.currentTarget.value)} /><span>{unit}</span></span>
      {wrong && <span class="wrong" role="alert">{wrong}</span>}
    </label>
  );
}

/** Per cent typed, as 0.01 % or finer: `digits` 2 or 4. */
export function Percent({ label, value, onChange, digits = 2 }: { label: string; value: number | null; onChange: (value: number | null) => void; digits?: 2 | 4 }) {
  const by = 10 ** digits;
  const [text, setText] = useState(value === null ? '' : String(value / by));
  const take = (typed: string): void => {
    setText(typed);
    const x = /^\d+([.,]\d+)?$/.test(typed.trim()) ? Number(typed.trim().replace(',', '.')) : NaN;
    onChange(Number.isNaN(x) ? null : Math.round(x * by));
  };
  return (
    <label class="field"><span class="field-label">{label}</span>
      <span class="input-unit"><input class="input" inputMode="decimal" autoComplete="off" dir="ltr" value={text} onInput={(e) => take(e.currentTarget.value)} /><span>%</span></span>
    </label>
  );
}

/** US or metric, where the figures are. */
export function UnitSwitch() {
  return (
    <div class="row" role="group" aria-label={t('mix.units')}>
      {(['metric', 'us'] as const).map((u) => (
        <button type="button" key={u} class="choice grow" aria-pressed={units.value === u} onClick={() => { units.value = u; }}>{t(`mix.units.${u}`)}</button>
      ))}
    </div>
  );
}

/** Minor units with the farm's currency, where it says one. */
export function money(minor: number): string {
  const currency = app().ref.value.settings['currency'];
  return `${(minor / 100).toFixed(2)}${typeof currency === 'string' && currency ? `\u00a0${currency}` : ''}`;
}

/** Money typed as people write it, kept in minor units; the farm's currency stands beside it. */
export function Money({ label, value, onChange }: { label: string; value: number | null; onChange: (value: number | null) => void }) {
  const [text, setText] = useState(value === null ? '' : (value / 100).toFixed(2));
  const [wrong, setWrong] = useState('');
  const take = (typed: string): void => {
    setText(typed);
    setWrong('');
    if (!typed.trim()) return onChange(null);
    const got = attempt(() => halfUp(number(typed).times(100)));
    if ('ok' in got && got.ok >= 0) return onChange(got.ok);
    setWrong('wrong' in got ? got.wrong : t('unfit.amount_range'));
    onChange(null);
  };
  const currency = app().ref.value.settings['currency'];
  return (
    <label class="field"><span class="field-label">{label}</span>
      <span class="input-unit"><input class="input" inputMode="decimal" autoComplete="off" dir="ltr" value={text} aria-invalid={Boolean(wrong)} onInput={(e) => take(e.currentTarget.value)} /><span>{typeof currency === 'string' ? currency : ''}</span></span>
      {wrong && <span class="wrong" role="alert">{wrong}</span>}
    </label>
  );
}
