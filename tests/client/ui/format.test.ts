/** Times in the farm's zone, across clock changes; weights and shares in the farm's units. */
import { afterEach, describe, expect, it } from 'vitest';
import { language } from '../../../client/src/i18n';
import { age, calendarDays, day, dayAge, fromWall, noon, percent, share, spacedCode, units, wall, weight, when, withUnit, zone } from '../../../client/src/i18n/format';
import { statedTime } from '../../../client/src/ui/Happened';

const at = (text: string): number => Date.parse(text);
const plain = (text: string): string => text.replace(/\u00a0/g, ' ');

afterEach(() => { zone.value = 'UTC'; units.value = 'metric'; language.value = 'en-GB'; });

describe('the farm’s wall clock', () => {
  it.each([
    ['Europe/London', { y: 2026, m: 6, d: 12, h: 16, min: 0 }, '2026-06-12T15:00:00Z'],
    ['Europe/London', { y: 2026, m: 1, d: 12, h: 16, min: 0 }, '2026-01-12T16:00:00Z'],
    ['Australia/Lord_Howe', { y: 2026, m: 1, d: 1, h: 12, min: 0 }, '2026-01-01T01:00:00Z'],
    ['Pacific/Kiritimati', { y: 2026, m: 1, d: 1, h: 0, min: 30 }, '2025-12-31T10:30:00Z'],
    // 01:30 comes twice that night: the first one is meant.
    ['Europe/London', { y: 2026, m: 10, d: 25, h: 1, min: 30 }, '2026-10-25T00:30:00Z'],
    // 01:30 never comes that night: half an hour after the change.
    ['Europe/London', { y: 2026, m: 3, d: 29, h: 1, min: 30 }, '2026-03-29T01:30:00Z'],
  ])('%s %j', (tz, w, utc) => expect(new Date(fromWall(w, tz)).toISOString()).toBe(new Date(at(utc)).toISOString()));

  it('comes back from a moment to the same figures', () => {
    for (const tz of ['Europe/London', 'America/St_Johns', 'Australia/Adelaide', 'Asia/Kathmandu']) {
      for (let ms = at('2026-01-01T12:00:00Z'); ms < at('2027-01-01T00:00:00Z'); ms += 86_400_000 * 5.3) {
        const whole = Math.floor(ms / 60_000) * 60_000;
        expect(fromWall(wall(whole, tz), tz)).toBe(whole);
      }
    }
  });

  it('counts days by the calendar, also over the 23-hour day', () => {
    expect(calendarDays(at('2026-03-28T23:30:00Z'), at('2026-03-29T00:30:00Z'), 'Europe/London')).toBe(1);
    expect(calendarDays(at('2026-03-28T12:00:00Z'), at('2026-03-30T11:00:00Z'), 'Europe/London')).toBe(2);
  });
});

describe('dates', () => {
  const now = at('2026-11-25T09:00:00Z');
  it('are day and short month with the age', () => {
    expect(plain(dayAge(at('2026-11-16T20:00:00Z'), now))).toBe('16 Nov (9 d)');
    expect(day(at('2025-06-12T12:00:00Z'), now)).toBe('12 Jun 2025');
    language.value = 'en-US';
    expect(day(at('2026-06-12T12:00:00Z'), now)).toBe('Jun 12');
  });
  it('never give a bare day an hour', () => {
    expect(when(at('2026-11-24T12:00:00Z'), true, now)).toBe('yesterday');
    expect(when(at('2026-11-24T16:05:00Z'), false, now)).toBe('yesterday 16:05');
    expect(when(at('2026-11-20T12:00:00Z'), true, now)).toBe('20 Nov');
  });
  it('tell ages coarsely', () => expect([0, 59_000, 60_000, 47 * 60_000, 26 * 3_600_000, 49 * 3_600_000].map((ms) => plain(age(now - ms, now)))).toEqual(['under 1 min', 'under 1 min', '1 min', '47 min', '26 h', '2 d']));
});

describe('happened earlier', () => {
  const now = at('2026-11-25T09:00:00Z');
  it.each([
    ['now', '', '', null],
    ['today', '', '08:15', { ms: at('2026-11-25T08:15:00Z'), p: 'm' }],
    ['today', '', '09:30', 'future'],
    ['today', '', '', { ms: now, p: 'd' }],
    ['yesterday', '', '16:00', { ms: at('2026-11-24T16:00:00Z'), p: 'm' }],
    ['yesterday', '', '', { ms: at('2026-11-24T12:00:00Z'), p: 'd' }],
    ['day', '2026-10-01', '', { ms: at('2026-10-01T12:00:00Z'), p: 'd' }],
    ['day', '2026-11-26', '', 'future'],
    ['day', '', '', null],
  ] as const)('%s %s %s', (mode, d, time, said) => expect(statedTime(mode, d, time, now)).toEqual(said));
  it('is noon in the farm’s zone where only the day is known', () => {
    zone.value = 'Europe/London';
    expect(statedTime('day', '2026-06-12', '', now)).toEqual({ ms: noon(2026, 6, 12, 'Europe/London'), p: 'd' });
    expect(new Date(noon(2026, 6, 12, 'Europe/London')).toISOString()).toBe('2026-06-12T11:00:00.000Z');
  });
});

describe('figures', () => {
  it.each([[850, '850 g'], [2400, '2,400 g'], [12_450, '12.45 kg'], [-3, '-3 g']])('%i g', (g, text) => expect(plain(weight(g))).toBe(text));
  it('are pounds and ounces where these are used', () => {
    units.value = 'us';
    expect([200, 850, 907, 20_000].map((g) => plain(weight(g)))).toEqual(['7.1 oz', '1 lb 14 oz', '2 lb', '44.1 lb']);
    expect(plain(weight(453))).toBe('1 lb');
  });
  it('are shares of a named whole', () => {
    expect(plain(percent(7665))).toBe('76.7 %');
    expect(plain(percent(50))).toBe('0.5 %');
    expect(plain(share(1, 3))).toBe('33.3 %');
    expect(plain(share(1, 0))).toBe('0 %');
  });
  it('are codes in three pieces', () => expect(plain(spacedCode('B7K3Q9TZW'))).toBe('B7K 3Q9 TZW'));
});

describe('a gauge', () => {
  it('shows kilopascal or pounds', () => {
    expect([103_000, 103_421, 0].map((pa) => withUnit(pa, 'Pa'))).toEqual(['103 kPa', '103.4 kPa', '0 kPa']);
    units.value = 'us';
    expect([103_421, 0].map((pa) => withUnit(pa, 'Pa'))).toEqual(['15 psi', '0 psi']);
  });
  it('leaves no money in pence', () => expect(withUnit(1_250, 'minor currency units')).toBe('12.5'));
});
