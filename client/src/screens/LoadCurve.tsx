/**
 * A load's curve: temperature of each probe, the rate of kill under it, the limit, the hold. Lines differ by their
 * dashes and by a number at their end, so no colour is needed; the same is said in a sentence and in a table.
 */
import { num, t } from '../i18n';
import { temperature, units } from '../i18n/format';
import type { Score } from '../trade/score';
import { clockText, f0Text, spanText, type Clock } from './logwords';

const [WIDE, TOP, HIGH, GAP, LOW] = [340, 14, 190, 26, 70];
const [LEFT, RIGHT] = [34, 18];
const TALL = TOP + HIGH + GAP + LOW + 22;
const DASHES = ['', '7 3', '2 3', '10 3 2 3', '4 2 1 2', '1 2'];
const STEPS_MIN = [1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 720, 1_440, 2_880, 10_080];
const ROWS = 24;

/** A temperature as the axis counts it. */
const shown = (hundredths: number): number => (units.value === 'us' ? hundredths / 100 * 1.8 + 32 : hundredths / 100);

export function LoadCurve({ score, clock }: { score: Score; clock: Clock }) {
  const { curve, probes } = score;
  const [from, to] = [curve.ms[0] ?? 0, Math.max(curve.ms[curve.ms.length - 1] ?? 0, (curve.ms[0] ?? 0) + 1)];
  const known = curve.temp.flat().filter((x): x is number => x !== null);
  if (!known.length) return null;
  const x = (ms: number): number => LEFT + (WIDE - LEFT - RIGHT) * (ms - from) / (to - from);
  const step = units.value === 'us' ? 50 : 20;
  const bottom = Math.floor(shown(Math.min(...known)) / step) * step;
  const top = Math.max(shown(Math.max(...known, score.limit)) + step / 4, bottom + step);
  const y = (c: number): number => TOP + HIGH * (1 - (shown(c) - bottom) / (top - bottom));
  const rates = curve.rate.flat().filter((r): r is number => r !== null);
  const most = Math.max(...rates, 1);
  const floor = TOP + HIGH + GAP + LOW;
  const kill = (r: number): number => floor - LOW * r / most;
  const ticks = Array.from({ length: 12 }, (_, i) => bottom + i * step).filter((v) => v <= top);
  const stepMs = 60_000 * (STEPS_MIN.find((m) => (to - from) / (m * 60_000) <= 4.5) ?? 10_080);
  const begin = Math.ceil(from / stepMs) * stepMs;
  const times = Array.from({ length: 8 }, (_, i) => begin + i * stepMs).filter((ms) => ms <= to);
  const coldest = score.coldest ?? 0;
  const arrived = score.arrived_ms;
  const pieces = (of: readonly (number | null)[], at: (v: number) => number): string => {
    let path = '';
    let pen = false;
    of.forEach((v, i) => {
      if (v === null) { pen = false; return; }
      path += `${pen ? 'L' : 'M'}${x(curve.ms[i] ?? 0).toFixed(1)} ${at(v).toFixed(1)}`;
      pen = curve.joined[i] === true;
    });
    return path;
  };
  const areas = stretches(curve.rate[coldest] ?? [], curve.joined).map(([a, b]) => {
    const points = Array.from({ length: b - a + 1 }, (_, k) => `${x(curve.ms[a + k] ?? 0).toFixed(1)} ${kill(curve.rate[coldest]?.[a + k] ?? 0).toFixed(1)}`);
    return `M${x(curve.ms[a] ?? 0).toFixed(1)} ${floor}L${points.join('L')}L${x(curve.ms[b] ?? 0).toFixed(1)} ${floor}Z`;
  });
  const gaps = curve.joined.flatMap((joined, i) => (joined ? [] : [[curve.ms[i] ?? 0, curve.ms[i + 1] ?? 0] as const]));
  const said = t('load_curve.said', {
    from: clockText(from, clock), to: clockText(to, clock), highest: temperature(score.highest ?? 0), probe: probes[coldest]?.name ?? '',
    limit: temperature(score.limit), held: spanText(score.held_ms), f0: f0Text(score.f0 ?? 0), gaps: gaps.length,
  });
  return (
    <figure class="load-curve">
      <svg viewBox={`0 0 ${WIDE} ${TALL}`} role="img" aria-label={said}>
        <defs>
          <pattern id="held" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" class="lc-soft" /><path d="M0 0V6" class="lc-hatch" /></pattern>
          <pattern id="gap" width="5" height="5" patternUnits="userSpaceOnUse"><circle cx="1.5" cy="1.5" r="0.9" class="lc-dot" /></pattern>
        </defs>
        {arrived !== null && <rect x={x(arrived)} y={TOP} width={Math.max(1, x(Math.min(to, arrived + score.held_ms)) - x(arrived))} height={HIGH} fill="url(#held)" data-held />}
        {ticks.map((v) => { const at = TOP + HIGH * (1 - (v - bottom) / (top - bottom)); return <g key={v}><path class="lc-grid" d={`M${LEFT} ${at}H${WIDE - RIGHT}`} /><text x={LEFT - 4} y={at + 4} class="lc-text lc-end">{num(v)}</text></g>; })}
        {times.map((ms) => <g key={ms}><path class="lc-grid" d={`M${x(ms)} ${TOP}V${floor}`} /><text x={x(ms)} y={floor + 15} class="lc-text lc-mid">{clockText(ms, clock)}</text></g>)}
        {gaps.map(([a, b]) => <rect key={a} x={x(a)} y={TOP} width={Math.max(2, x(b) - x(a))} height={floor - TOP} fill="url(#gap)" data-gap />)}
        <path class="lc-limit" d={`M${LEFT} ${y(score.limit)}H${WIDE - RIGHT}`} />
        <text x={LEFT + 3} y={y(score.limit) - 4} class="lc-text">{t('load_curve.limit', { limit: temperature(score.limit) })}</text>
        {probes.map((p, i) => <path key={p.name + i} class={i === coldest ? 'lc-line lc-first' : 'lc-line'} stroke-dasharray={DASHES[i % DASHES.length]} d={pieces(curve.temp[i] ?? [], y)} />)}
        {probes.length > 1 && ends(curve.temp, y).map(({ probe, at }) => <text key={probe} x={WIDE - RIGHT + 3} y={at} class="lc-text lc-strong">{probe + 1}</text>)}
        <text x={LEFT} y={TOP + HIGH + GAP - 8} class="lc-text">{t('load_curve.rate')}</text>
        {areas.map((d) => <path key={d.slice(0, 24)} class="lc-kill" d={d} />)}
        <path class="lc-axis" d={`M${LEFT} ${floor}H${WIDE - RIGHT}`} />
        <text x={LEFT - 4} y={floor - LOW + 8} class="lc-text lc-end">{num(Number((most / 10_000).toPrecision(2)))}</text>
        <text x={LEFT - 4} y={floor} class="lc-text lc-end">0</text>
      </svg>
      <figcaption>
        <ul class="lc-legend">{probes.map((p, i) => (
          <li key={p.name + i}>
            <svg width="44" height="12" aria-hidden="true"><path class={i === coldest ? 'lc-line lc-first' : 'lc-line'} stroke-dasharray={DASHES[i % DASHES.length]} d="M0 6H44" /></svg>
            <span dir="auto">{probes.length > 1 ? `${i + 1} · ` : ''}{p.name}{i === coldest && probes.length > 1 ? ` · ${t('load_curve.coldest')}` : ''}</span>
          </li>
        ))}
        {arrived !== null && score.held_ms > 0 && <li><svg width="44" height="14" aria-hidden="true"><rect width="44" height="14" fill="url(#held)" /></svg><span>{t('load_curve.held', { held: spanText(score.held_ms) })}</span></li>}
        {gaps.length > 0 && <li><svg width="44" height="14" aria-hidden="true"><rect width="44" height="14" fill="url(#gap)" /></svg><span>{t('load_curve.gap')}</span></li>}
        </ul>
        <p class="small quiet">{t(clock === 'since' ? 'load_curve.since' : 'load_curve.clock')}</p>
        <details><summary>{t('load_curve.table')}</summary><Table score={score} clock={clock} /></details>
      </figcaption>
    </figure>
  );
}

/** Where each probe's number stands at the right: at its last reading, moved apart where two would touch. */
function ends(temps: readonly (readonly (number | null)[])[], y: (c: number) => number): { probe: number; at: number }[] {
  const found = temps.map((column, probe) => {
    const last = [...column].reverse().find((v) => v !== null);
    return { probe, at: (last == null ? TOP + HIGH : y(last)) + 4 };
  }).sort((a, b) => a.at - b.at);
  for (let i = 1; i < found.length; i += 1) {
    const [before, here] = [found[i - 1], found[i]];
    if (before && here && here.at - before.at < 13) here.at = before.at + 13;
  }
  return found;
}

/** Rows from..to of one unbroken line. */
function stretches(of: readonly (number | null)[], joined: readonly boolean[]): [number, number][] {
  const found: [number, number][] = [];
  let first = -1;
  of.forEach((v, i) => {
    if (v !== null && first < 0) first = i;
    if (first >= 0 && (v === null || i === of.length - 1 || !joined[i])) {
      const last = v === null ? i - 1 : i;
      if (last > first) found.push([first, last]);
      first = -1;
    }
  });
  return found;
}

function Table({ score: { curve, probes, coldest }, clock }: { score: Score; clock: Clock }) {
  const n = curve.ms.length;
  const rows = [...new Set(Array.from({ length: Math.min(n, ROWS) }, (_, i) => Math.round(i * (n - 1) / Math.max(1, Math.min(n, ROWS) - 1))))];
  return (
    <div class="tablewrap" tabIndex={0} role="region" aria-label={t('load_curve.table')}><table>
      <thead><tr><th scope="col">{t('load_curve.time')}</th>{probes.map((p, i) => <th scope="col" key={i} class="num" dir="auto">{p.name}</th>)}<th scope="col" class="num">{t('load_curve.rate.short')}</th></tr></thead>
      <tbody>{rows.map((i) => (
        <tr key={i}>
          <td>{clockText(curve.ms[i] ?? 0, clock)}</td>
          {probes.map((_, p) => <td key={p} class="num">{curve.temp[p]?.[i] == null ? '–' : temperature(curve.temp[p]?.[i] ?? 0)}</td>)}
          <td class="num">{curve.rate[coldest ?? 0]?.[i] == null ? '–' : num(Math.round((curve.rate[coldest ?? 0]?.[i] ?? 0) / 10) / 1_000)}</td>
        </tr>
      ))}</tbody>
    </table></div>
  );
}
