/** What happened, newest first: when, what, by whom; a voided line stays readable, struck and said. */
import type { HistoryLine, Line } from '../app-types';
import { choiceName, fieldId, has, kindName, t } from '../i18n';
import { when, withUnit } from '../i18n/format';
import { KINDS } from './catalogue';
import { anyName, personName } from './names';

/** Units that stand behind their figure. */
const SAID = ['h', 'min', 'Pa', 'minor currency units'];

/** A record's data in words, in the catalogue's order; unknown fields of a later version are left out. */
export function dataWords(line: Line): string {
  const fields = KINDS.get(line.k)?.fields ?? [];
  const d = line.d ?? {};
  return fields.flatMap((f) => {
    const v = d[f.name];
    if (v === undefined || f.type === 'was' || f.type === 'id' || f.type === 'of' || f.name === 'sha256' || f.name === 'bytes') return [];
    if (f.type === 'choice') return [choiceName(f.name, String(v))];
    if (f.type === 'code') return [anyName(String(v))];
    if (f.type === 'codes') return [t('name.labels', { n: Array.isArray(v) ? v.length : 0 })];
    if (f.type === 'parts' || f.type === 'fields' || f.type === 'rows') return [];
    const label = has(fieldId(line.k, f.name)) ? t(fieldId(line.k, f.name)) : f.name;
    if (f.type === 'time') return [`${label} ${when(Number(v))}`];
    if (f.type === 'flag') return v ? [label] : [];
    if (f.type === 'int') {
      if (/^g\b/.test(f.unit ?? '')) return [withUnit(Number(v), 'g')];
      if (f.unit?.startsWith('0.01 %')) return [`${label} ${withUnit(Number(v), '0.01 %')}`];
      if (f.unit === '0.01 °C') return [withUnit(Number(v), f.unit)];
      if (f.unit === 'bags') return [t('name.bags', { n: Number(v) })];
      return [`${label} ${withUnit(Number(v), f.unit && SAID.includes(f.unit) ? f.unit : '')}`];
    }
    return [String(v)];
  }).join(' · ');
}

export function History({ lines }: { lines: HistoryLine[] }) {
  if (lines.length === 0) return <p class="quiet">{t('history.none')}</p>;
  return (
    <ol class="list history">
      {lines.map(({ line, voided, via }) => (
        <li key={line.id}>
          <time dateTime={new Date(line.t).toISOString()}>{when(line.t, line.o === 'd')}</time>
          <div>
            <b class={voided ? 'void' : ''}>{kindName(line.k)}</b>{voided && <> <span class="tag">{t('history.voided')}</span></>}
            {line.p === 0 && <> <span class="tag">{t('history.unsent')}</span></>}
            <span class="small" style={{ display: 'block' }} dir="auto">{dataWords(line)}</span>
            <span class="small quiet" dir="auto">{[via ? t('history.via', { what: anyName(via) }) : '', line.by ? personName(line.by) : ''].filter(Boolean).join(' · ')}</span>
          </div>
        </li>
      ))}
    </ol>
  );
}
