/** The small pure pieces of the floor: order of work, a sweep's sum, the day sheet's rows, zoom steps. */
import { describe, expect, it } from 'vitest';
import { check } from '../../../client/src/check';
import { KINDS } from '../../../client/src/catalogue';
import { clockFigures, draftsOf, type Lookup, type Meant, type Row } from '../../../client/src/round/daysheet';
import { reminders } from '../../../client/src/round/order';
import { tally, whereIn } from '../../../client/src/round/tally';
import { sweepAttempt } from '../../../client/src/scan/engine';
import { zoomSteps } from '../../../client/src/ui/Lens';
import { checkSymbol } from '../../../client/src/ids';

const HOUR = 3_600_000;
const code = (body: string): string => body + checkSymbol(body);
const [A, B, C, D] = ['B0000001', 'B0000002', 'B0000003', 'B0000004'].map(code) as [string, string, string, string];

describe('order of work', () => {
  it.each([
    ['contaminated', null, ['last_shut']],
    ['inoculate', null, ['wipe_clean']],
    ['inoculate', 2 * HOUR, ['wipe_clean', 'held_mould']],
    ['inoculate', 11 * HOUR, ['wipe_clean']],
    ['look', 2 * HOUR, ['held_mould']],
    ['look', null, []],
    ['move', null, []],
    ['soak', null, []],
    ['pick', 2 * HOUR, []],
  ] as const)('%s, mould held %s ms ago', (purpose, ago, words) => {
    expect(reminders(purpose, ago === null ? null : 100 * HOUR - ago, 100 * HOUR)).toEqual(words);
  });
});

describe('a sweep', () => {
  const state = (one: string) => (one === D ? 'ended' as const : one.startsWith('B') ? 'lives' as const : 'unknown' as const);
  it('tells found, missing, stray and ended apart; a label seen ten times counts once', () => {
    const seen = [A, A, A, C, D, code('P0000001')];
    expect(tally(seen, { codes: [A, B], unlabelled: 0 }, state)).toEqual({ found: [A], missing: [B], stray: [C], odd: [D] });
  });
  it('misses all of a shelf that was not seen', () => expect(tally([], { codes: [A, B], unlabelled: 3 }, state).missing).toEqual([A, B]));
  it.each([[640, 360, 'middle'], [100, 360, 'left'], [1200, 300, 'right'], [640, 20, 'up'], [600, 700, 'down']])('says where %i, %i is', (x, y, where) => {
    expect(whereIn(x, y, 1280, 720)).toBe(where);
  });
  it('reads every third frame the slow way, small ones always enlarged', () => {
    expect([0, 1, 2, 3].map((n) => sweepAttempt(n, 720).enlarged)).toEqual([false, false, true, false]);
    expect(sweepAttempt(0, 480)).toEqual({ part: 'full', enlarged: true, denoised: false });
  });
});

describe('zoom', () => {
  it.each([[undefined, []], [{ min: 1, max: 1 }, []], [{ min: 1, max: 3 }, [1, 2]], [{ min: 1, max: 8 }, [1, 2, 4]], [{ min: 0.5, max: 10 }, [0.5, 1, 2]]])('%j', (range, steps) => {
    expect(zoomSteps(range)).toEqual(steps);
  });
});

describe('the day sheet', () => {
  const batch: Meant = { code: code('M0000001'), n: 60, groups: [{ code: 'g-00000000-0000-7000-8000-000000000001', n: 60 }], of: [[code('M0000001'), '']], next: 1 };
  const find: Lookup = {
    what: (text) => Promise.resolve(text === '25 Nov A1' ? batch : text === 'twice' ? 'several' : text === A ? { code: A, n: 1, of: [[code('M0000001'), '']], next: 2 } : 'unknown'),
    place: (text) => (text === 'A3' ? { code: code('P0000001'), n: 0 } : 'unknown'),
    lot: (text) => (text === 'Fen 4' ? { code: code('S0000001'), n: 0 } : 'several'),
    on: (time) => { const c = clockFigures(time); return time === '' ? { ms: 12 * HOUR, p: 'd' } : c ? (c.h > 20 ? 'future' : { ms: c.h * HOUR + c.min * 60_000, p: 'm' }) : null; },
  };
  const row = (more: Partial<Row>): Row => ({ time: '14:30', act: 'moved', what: A, n: '', to: 'A3', g: '', choices: {}, ...more });

  it.each([
    ['a bag', row({}), [['bag.moved', [A], { to: code('P0000001') }]]],
    ['a whole batch', row({ what: '25 Nov A1' }), [['bag.moved', [code('M0000001')], { to: code('P0000001') }]]],
    ['40 of a batch', row({ act: 'inoculated', what: '25 Nov A1', n: '40', to: 'Fen 4' }), [['group.split', ['g-00000000-0000-7000-8000-000000000001'], { n: 40 }], ['bag.inoculated', ['g-@0'], { spawn: code('S0000001') }]]],
    ['all 60 of it', row({ act: 'soaked', what: '25 Nov A1', n: '60' }), [['bag.soaked', ['g-00000000-0000-7000-8000-000000000001'], {}]]],
    ['a pick', row({ act: 'harvested', g: '412' }), [['bag.harvested', [A], { g: 412, of: [[code('M0000001'), '']], flush: 2 }]]],
    ['a sign', row({ act: 'contaminated', choices: { sign: 'cobweb', where: 'top', kept: 'thrown_out' } }), [['bag.contaminated', [A], { sign: 'cobweb', where: 'top', kept: 'thrown_out' }]]],
  ])('writes %s with the time on paper', async (_what, given, wanted) => {
    const made = await draftsOf(given, find);
    if (!Array.isArray(made)) throw new Error(JSON.stringify(made));
    expect(made.map((draft) => [draft.ty, draft.sub, draft.d])).toEqual(wanted);
    expect(made.at(-1)?.on).toEqual({ ms: 14.5 * HOUR, p: 'm' });
    for (const draft of made) expect(check(draft.ty, KINDS.get(draft.ty)?.version ?? 0, draft.sub.map((s) => (s === 'g-@0' ? A : s)), (draft.d ?? {}) as never)).toBe(null);
  });

  it.each([
    ['time', row({ time: '2530' })], ['future', row({ time: '23:00' })], ['what_unknown', row({ what: 'nothing' })], ['what_several', row({ what: 'twice' })],
    ['place', row({ to: 'B9' })], ['lot', row({ act: 'inoculated', to: 'Fen' })], ['g', row({ act: 'harvested', g: '4,5' })], ['n', row({ n: 'x' })],
    ['too_few', row({ what: '25 Nov A1', n: '99' })], ['choices', row({ act: 'opened' })],
  ])('says what is wrong: %s', async (why, given) => expect(await draftsOf(given, find)).toMatchObject({ why }));

  it.each([['14:30', 14, 30], ['1430', 14, 30], ['9.05', 9, 5], ['9h05', 9, 5], ['09 05', 9, 5], ['0000', 0, 0]])('reads %s', (text, h, min) => expect(clockFigures(text)).toEqual({ h, min }));
  it.each(['24:00', '12:60', '12', 'noon', ''])('does not read %s', (text) => expect(clockFigures(text)).toBe(null));
});
