/** A table written by hand beside the steamer: its lines as times and temperatures, and what a gauge in it means. */
import { finding, type Finding } from './findings';
import { temperatureAtGaugeC, trappedAir } from './steam';
import { number, whole } from './units';

/** One line as typed: the wall clock "06:40", a figure, and what it counts. */
export interface Row { time: string; value: string; unit: string }

/** A line that can be read: ms of a clock that goes on past midnight; `gauge` in Pa where it was a pressure. */
export interface HandReading { ms: number; c: number; gauge: number | null }

export const UNITS = ['°C', '°F', 'psi', 'kPa', 'bar'];
export const GAUGES: ReadonlySet<string> = new Set(['psi', 'kPa', 'bar']);
/** A clock that falls by more than this went past midnight, min. */
const HALF_DAY = 720;

/** The lines that are whole; throws Unfit for a figure that is none, or no steam. `altitudeM` in m. */
export function readRows(rows: readonly Row[], altitudeM: number): HandReading[] {
  let day = 0;
  let last: number | null = null;
  return rows.flatMap(({ time, value, unit }): HandReading[] => {
    const clock = /^(\d{1,2}):(\d{2})/.exec(time);
    if (!clock || !value.trim()) return [];
    const minute = Number(clock[1]) * 60 + Number(clock[2]);
    if (last !== null && last - minute > HALF_DAY) day += 1_440;
    last = minute;
    const ms = (day + minute) * 60_000;
    const x = whole(number(value), unit);
    return [GAUGES.has(unit) ? { ms, c: temperatureAtGaugeC(x, altitudeM), gauge: x } : { ms, c: x / 100, gauge: null }];
  });
}

/** What a gauge says beside the sum: that pressure alone was read, and a thermometer that disagrees with it. */
export function pressureFindings(read: readonly HandReading[], altitudeM: number): Finding[] {
  const gauges = read.filter((r) => r.gauge !== null);
  if (!gauges.length) return [];
  const found: Finding[] = [finding('pressure_only', 'warn', '', { lines: gauges.length })];
  for (const { ms, gauge } of gauges) {
    const beside = read.find((r) => r.ms === ms && r.gauge === null);
    const air = beside && gauge !== null ? trappedAir(gauge, beside.c, altitudeM) : null;
    if (air) found.push(air);
  }
  return found;
}
