/** What a load's record holds, and a table written by hand: figures worked by hand beside each. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { KINDS } from '../../../client/src/catalogue';
import { pressureFindings, readRows } from '../../../client/src/trade/handTable';
import { drawn, fewer, loggedData, MOST_POINTS } from '../../../client/src/trade/logged';
import { tidy } from '../../../client/src/trade/readings';
import { score } from '../../../client/src/trade/score';

const MIN = 60_000;
const scored = (rows: [min: number, c: number][], by_hand = true) =>
  score(tidy(rows.map(([m]) => m * MIN), rows.map(([, c]) => [c]), ['Core'], { by_hand }), 12_110, 1_000, 12_100);

describe('the record of a log', () => {
  it('holds whole minutes and what is needed to reckon it again', () => {
    // 30 min up to 121.0, 90 min there: 87.95 and the ramp's end; the hold begins at minute 30.
    const d = loggedData(scored([[0, 20], [30, 121], [120, 121]]), { by_hand: true });
    expect(d).toMatchObject({ ref: 12_110, z: 1_000, limit: 12_100, coldest: 'Core', highest: 12_100, arrived_min: 30, held_min: 90, uncounted_min: 0, readings: 3, faults: 0, by_hand: true, file: '', sha256: '' });
    expect(d?.['f0']).toBeGreaterThanOrEqual(8_795);
    expect(d?.['curve']).toEqual([{ min: 0, temp: 2_000 }, { min: 30, temp: 12_100 }, { min: 120, temp: 12_100 }]);
  });

  it('names only fields of its kind', () => {
    const d = loggedData(scored([[0, 20], [30, 121]]), { by_hand: true, file: 'x'.repeat(300), sha256: 'a'.repeat(64) });
    const known = KINDS.get('load.logged')?.fields.map((f) => f.name) ?? [];
    expect(Object.keys(d ?? {}).filter((name) => !known.includes(name))).toEqual([]);
    expect(String(d?.['file'])).toHaveLength(120);
  });

  it('is none where no probe gave two readings that follow each other', () => {
    expect(loggedData(scored([[0, 20], [1, Number.NaN], [2, 30]], false), {})).toBeNull();
  });

  it('counts a gap as not counted, rounded up', () => {
    const rows = Array.from({ length: 60 }, (_, m): [number, number] => [m < 30 ? m : m + 9.5, 121]);
    expect(loggedData(scored(rows, false), {})).toMatchObject({ uncounted_min: 11, faults: 3 });
  });

  it('says where nothing was read, however much it is thinned', () => {
    for (const n of [60, 900]) {
      const rows = Array.from({ length: n }, (_, m): [number, number] => [m < n / 2 ? m : m + 30, 60 + (m % 7)]);
      const data = loggedData(scored(rows, false), {}) ?? {};
      const curve = data['curve'] as { min: number; gap?: boolean }[];
      expect(curve.filter((p) => p.gap)).toEqual([expect.objectContaining({ min: n / 2 - 1 })]);
      expect(drawn(data)?.curve.joined.filter((joined) => !joined)).toHaveLength(1);
    }
    const lost = scored([[0, 20], [1, 21], [2, 22], [3, Number.NaN], [4, 24], [5, 25]], false);
    expect(loggedData(lost, {})?.['curve']).toEqual([{ min: 0, temp: 2_000 }, { min: 1, temp: 2_100 }, { min: 2, temp: 2_200, gap: true }, { min: 4, temp: 2_400 }, { min: 5, temp: 2_500 }]);
  });

  it('is drawn again from the record', () => {
    const d = loggedData(scored([[0, 20], [30, 121], [120, 121]]), { by_hand: true }) ?? {};
    expect(drawn(d)).toMatchObject({ f0: d['f0'], arrived_ms: 30 * MIN, held_ms: 90 * MIN, highest: 12_100, curve: { rate: [[0, 9_772, 9_772]], joined: [true, true] } });
    expect(drawn({ f0: 466, ref: 12_110, z: 1_000 })).toBeNull();
  });

  it('thins a curve and keeps its ends, its highest and its lowest', () => {
    fc.assert(fc.property(fc.array(fc.integer({ min: -4_000, max: 20_000 }), { minLength: 1, maxLength: 900 }), (temps) => {
      const ms = temps.map((_, i) => i * MIN);
      const few = fewer({ ms, temp: [temps], rate: [temps], joined: temps.slice(1).map(() => true) }, 0, 0);
      expect(few.length).toBeLessThanOrEqual(MOST_POINTS);
      expect(few[0]?.temp).toBe(temps[0]);
      expect(few[few.length - 1]?.temp).toBe(temps[temps.length - 1]);
      expect(Math.max(...few.map((p) => p.temp))).toBe(Math.max(...temps));
      expect(Math.min(...few.map((p) => p.temp))).toBe(Math.min(...temps));
    }));
  });
});

describe('a table by hand', () => {
  it('goes on past midnight, and takes a comma', () => {
    expect(readRows([{ time: '23:15', value: '121,0', unit: '°C' }, { time: '00:45', value: '249.8', unit: '°F' }], 0))
      .toEqual([{ ms: 1_395 * MIN, c: 121, gauge: null }, { ms: 1_485 * MIN, c: 121, gauge: null }]);
  });

  it('leaves a line that is not whole', () => {
    expect(readRows([{ time: '', value: '121', unit: '°C' }, { time: '06:00', value: ' ', unit: '°C' }], 0)).toEqual([]);
  });

  it('takes a gauge for steam at the farm\u2019s altitude', () => {
    // 15 psi: 120.95 °C at sea level, 118.26 °C at 1,500 m (trade page, 4c).
    const at = (m: number): number => readRows([{ time: '06:00', value: '15', unit: 'psi' }], m)[0]?.c ?? 0;
    expect(at(0)).toBeCloseTo(120.95, 2);
    expect(at(1_500)).toBeCloseTo(118.26, 2);
  });

  it('says that pressure alone was read, and when a thermometer disagrees', () => {
    const rows = readRows([{ time: '06:00', value: '15', unit: 'psi' }, { time: '06:00', value: '110', unit: '°C' }], 0);
    expect(pressureFindings(rows, 0).map((f) => f.code)).toEqual(['pressure_only', 'air_in_chamber']);
    expect(pressureFindings(rows.slice(1), 0)).toEqual([]);
    const fine = readRows([{ time: '06:00', value: '15', unit: 'psi' }, { time: '06:00', value: '120.5', unit: '°C' }], 0);
    expect(pressureFindings(fine, 0).map((f) => f.code)).toEqual(['pressure_only']);
  });

  it('refuses what is no amount', () => {
    expect(() => readRows([{ time: '06:00', value: '12x', unit: '°C' }], 0)).toThrow('number');
  });
});
