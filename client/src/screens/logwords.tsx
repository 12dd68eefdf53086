/** What the screens of a load's temperatures share: times as the logger's clock has them, faults in words. */
import { num, t } from '../i18n';
import { hour, temperature } from '../i18n/format';
import type { Finding } from '../trade/findings';
import { Mark } from '../ui/Mark';
import { sentence } from './mixwords';

/** Whose clock a log's times are of: a wall's in the farm, one that counts in UTC, or one that began at 0. */
export type Clock = 'wall' | 'utc' | 'since';

/** A moment of a log: "06:40" on the wall of the farm, or "1:05" since the start. */
export function clockText(ms: number, clock: Clock): string {
  if (clock === 'utc') return hour(ms);
  const minutes = Math.floor(ms / 60_000);
  const h = Math.floor(minutes / 60);
  const text = (n: number): string => String(n).padStart(2, '0');
  return clock === 'since' ? `${h}:${text(minutes % 60)}` : `${text(((h % 24) + 24) % 24)}:${text(minutes % 60)}`;
}

/** Which clock a layout's times are of. A spreadsheet counts days of a wall clock. */
export const clockOf = (kind: string, unitMs: number, ms: number): Clock =>
  (kind === 'moment' || kind === 'clock' || unitMs === 86_400_000 ? 'wall' : kind === 'number' && ms > 1e11 ? 'utc' : 'since');

/** A span: "34 min", "2 h 05 min". */
export function spanText(ms: number): string {
  const minutes = Math.floor(ms / 60_000);
  if (minutes < 1) return t('load_log.seconds', { n: Math.round(ms / 1_000) });
  return minutes < 120 ? t('time.minutes', { n: minutes }) : t('load_log.span', { h: Math.floor(minutes / 60), min: minutes % 60 });
}

/** F0 in minutes: "42.17". */
export const f0Text = (hundredths: number): string => num(hundredths / 100);


/** A finding with its times and temperatures as they are read. */
function inWords(f: Finding, clock: Clock): Finding {
  const ms = ['from_ms', 'ms'].filter((name) => f.code === 'time_stray' || name === 'from_ms');
  return { ...f, values: Object.fromEntries(Object.entries(f.values).map(([name, value]) => [name,
    typeof value !== 'number' ? value
      : ms.includes(name) ? clockText(value, clock)
        : name === 'ms' || name.endsWith('_ms') ? spanText(value)
          : ['temp', 'should_be', 'highest'].includes(name) ? temperature(value) : value])) };
}

/** Of these kinds a person takes note first; what was merely guessed stands behind. */
export function Faults({ of, clock, children }: { of: readonly Finding[]; clock: Clock; children?: (f: Finding) => preact.ComponentChildren }) {
  return <ul class="stack-close" style={{ listStyle: 'none', padding: 0, margin: 0 }}>{of.map((f, i) => (
    <li key={f.code + f.about + i} class={`note ${f.level === 'note' ? 'note-care' : 'note-ask'}`} data-finding={f.code}>
      <Mark kind={f.level === 'note' ? 'care' : 'ask'} size={24} /><span dir="auto">{sentence(inWords(f, clock))}</span>{children?.(f)}
    </li>
  ))}</ul>;
}
