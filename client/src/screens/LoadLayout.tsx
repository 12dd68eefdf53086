/** How a log was read: its first rows, and a choice for everything that was guessed. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import type { Layout, Probe, Seen } from './logsend';

const UNITS_MS = [1, 1_000, 60_000, 3_600_000, 86_400_000];
const KINDS = ['moment', 'clock', 'elapsed', 'number', 'every'];

interface PickProps { label: string; value: string; options: [value: string, name: string][]; onPick: (value: string) => void }

function Pick({ label, value, options, onPick }: PickProps) {
  return (
    <label class="field"><span class="field-label">{label}</span>
      <select class="input" value={value} onChange={(e) => onPick(e.currentTarget.value)}>
        {options.map(([v, name]) => <option key={v} value={v}>{name}</option>)}
      </select>
    </label>
  );
}

export function LoadLayout({ seen, open, onChange }: { seen: Seen; open: boolean; onChange: (layout: Layout) => void }) {
  const { layout, names, rows } = seen;
  const width = Math.max(names.length, ...rows.map((row) => row.length));
  const columns = Array.from({ length: width }, (_, i) => i);
  const nameOf = (i: number): string => names[i] || t('load_log.column', { n: i + 1 });
  const [every, setEvery] = useState(String(layout.unit_ms / 1_000));
  const change = (with_: Partial<Layout>): void => onChange({ ...layout, ...with_ });
  const setKind = (kind: string): void => change({
    kind, columns: kind === 'every' ? [] : (layout.columns.length ? layout.columns : [0]).slice(0, kind === 'moment' ? 2 : 1),
    unit_ms: kind === 'every' ? 60_000 : kind === 'number' ? 1_000 : layout.unit_ms,
    probes: kind === 'every' ? layout.probes : layout.probes.filter((p) => p.column !== (layout.columns[0] ?? 0)),
  });
  const setTime = (at: number, column: number | null): void => {
    const next = [...layout.columns];
    if (column === null) next.splice(at, 1);
    else next[at] = column;
    change({ columns: next, probes: layout.probes.filter((p) => !next.includes(p.column)) });
  };
  const setProbe = (column: number, unit: string): void => {
    const rest = layout.probes.filter((p) => p.column !== column);
    const probes: Probe[] = unit ? [...rest, { column, name: nameOf(column), unit }].sort((a, b) => a.column - b.column) : rest;
    change({ probes });
  };
  return (
    <details class="card" open={open} data-layout>
      <summary>{t('load_log.read_so')}</summary>
      <div class="tablewrap" tabIndex={0} role="region" aria-label={t('load_log.rows')}><table>
        <thead><tr>{columns.map((i) => <th scope="col" key={i} dir="auto">{nameOf(i)}</th>)}</tr></thead>
        <tbody>{rows.map((row, r) => <tr key={r}>{columns.map((i) => <td key={i} dir="auto">{row[i] ?? ''}</td>)}</tr>)}</tbody>
      </table></div>
      <Pick label={t('load_log.kind')} value={layout.kind} onPick={setKind} options={KINDS.map((k) => [k, t(`load_log.kind.${k}`)])} />
      {layout.kind !== 'every' && <Pick label={t('load_log.time')} value={String(layout.columns[0] ?? 0)} onPick={(v) => setTime(0, Number(v))} options={columns.map((i) => [String(i), nameOf(i)])} />}
      {layout.kind === 'moment' && <Pick label={t('load_log.clock')} value={String(layout.columns[1] ?? '')} onPick={(v) => setTime(1, v === '' ? null : Number(v))}
        options={[['', t('load_log.clock.same')], ...columns.map((i): [string, string] => [String(i), nameOf(i)])]} />}
      {layout.kind === 'moment' && <Pick label={t('load_log.order')} value={layout.order} onPick={(order) => change({ order })} options={['ymd', 'dmy', 'mdy'].map((o) => [o, t(`load_log.order.${o}`)])} />}
      {layout.kind === 'number' && <Pick label={t('load_log.counted')} value={String(layout.unit_ms)} onPick={(v) => change({ unit_ms: Number(v) })} options={UNITS_MS.map((u) => [String(u), t(`load_log.unit.${u}`)])} />}
      {layout.kind === 'every' && (
        <label class="field"><span class="field-label">{t('load_log.every')}</span>
          <span class="input-unit"><input class="input" inputMode="decimal" value={every} dir="ltr"
            onInput={(e) => setEvery(e.currentTarget.value)}
            onChange={(e) => { const s = Number(e.currentTarget.value.replace(',', '.')); if (s > 0 && s <= 86_400) change({ unit_ms: Math.max(1, Math.round(s * 1_000)) }); }} /><span>s</span></span></label>
      )}
      <Pick label={t('load_log.decimal')} value={layout.decimal} onPick={(decimal) => change({ decimal })} options={[['.', t('load_log.decimal.point')], [',', t('load_log.decimal.comma')]]} />
      <fieldset class="stack-close"><legend>{t('load_log.probes')}</legend>
        {columns.filter((i) => layout.kind === 'every' || !layout.columns.includes(i)).map((i) => (
          <Pick key={i} label={nameOf(i)} value={layout.probes.find((p) => p.column === i)?.unit ?? ''} onPick={(unit) => setProbe(i, unit)}
            options={[['', t('load_log.not_temperature')], ['C', '°C'], ['F', '°F'], ['?', t('load_log.unit_unsure')]]} />
        ))}
      </fieldset>
    </details>
  );
}
