/** Hold time, from when the coldest probe arrives; the twin of server/bagtrail/trade/hold.py. */
import { finding, type Finding } from './findings';
import { at, type Series } from './readings';
import { nearest } from './whole';

/** How long every probe was at the limit or above, straight lines between readings; see the twin. */
export interface Hold {
  limit_c: number;
  arrived_ms: number | null;
  held_ms: number;
  longest_ms: number;
  total_ms: number;
  stretches: number;
  each_ms: (number | null)[];
  findings: Finding[];
}

/** How long the coldest probe held the limit; gaps and missing readings end a stretch. */
export function hold(series: Series, limitC: number): Hold {
  const each = series.probes.map((): number | null => null);
  const found: [begin: number, end: number][] = [];
  let open = false; // whether the last interval ended full, and this one is its neighbour
  for (let i = 0; i + 1 < series.ms.length; i += 1) {
    const ms = series.ms[i] ?? 0;
    const step = (series.ms[i + 1] ?? 0) - ms;
    let least = 0;
    let most = 1;
    for (let probe = 0; probe < each.length; probe += 1) {
      const [start, end] = above(at(series.temps, i, probe), at(series.temps, i + 1, probe), limitC);
      least = Math.max(least, start);
      most = Math.min(most, end);
      if (series.solid[i] && end > start) each[probe] ??= nearest(ms + start * step);
    }
    if (!series.solid[i] || most < least) {
      open = false;
      continue;
    }
    const last = found[found.length - 1];
    if (open && least === 0 && last) last[1] = ms + most * step;
    else found.push([ms + least * step, ms + most * step]);
    open = most === 1;
  }
  // A probe that only touches the limit and falls again has not held it.
  const stretches = found.filter(([a, b]) => b > a);
  const lengths = stretches.map(([a, b]) => nearest(b - a));
  const longest = Math.max(0, ...lengths);
  return {
    limit_c: limitC,
    arrived_ms: stretches[0] ? nearest(stretches[0][0]) : null,
    held_ms: lengths[0] ?? 0,
    longest_ms: longest,
    total_ms: lengths.reduce((a, b) => a + b, 0),
    stretches: stretches.length,
    each_ms: each,
    findings: stretches.length > 1 ? [finding('hold_broken', 'warn', '', { stretches: stretches.length, longest_ms: longest })] : [],
  };
}

/** From which to which part (0..1) of an interval a probe is at the limit; [2, -1] nowhere. */
function above(before: number, after: number, limitC: number): [start: number, end: number] {
  if (Number.isNaN(before) || Number.isNaN(after)) return [2, -1];
  const cross = (limitC - before) / (after - before);
  const [warm0, warm1] = [before >= limitC, after >= limitC];
  return [warm0 ? 0 : warm1 ? cross : 2, warm1 ? 1 : warm0 ? cross : -1];
}
