/** What screens decide before they draw: routes, doubts, flushes, answers, labels, the bag's look. */
import { describe, expect, it } from 'vitest';
import type { Found, Line, Part, Question } from '../../../client/src/app-types';
import { check } from '../../../client/src/check';
import { lookOf } from '../../../client/src/ui/BagSign';
import { parseHash, to } from '../../../client/src/ui/route';
import { newRound } from '../../../client/src/ui/act';
import { isRecordId } from '../../../client/src/ids';
import { ANSWERS, draftsOf } from '../../../client/src/screens/answers';
import { canAmend, changed } from '../../../client/src/screens/Amend';
import { sinceOf } from '../../../client/src/screens/Bag';
import { byBatch } from '../../../client/src/screens/Find';
import { doubt, proposedFlush } from '../../../client/src/screens/harvest';
import { numberOf } from '../../../client/src/rules';
import { labelsOf, nextNumber } from '../../../client/src/screens/labels';
import { isAmong } from '../../../client/src/screens/LeaveOut';
import { draftsFor, findTarget, type Target } from '../../../client/src/screens/target';
import { setApp } from '../../../client/src/ui/app';
import { dataWords } from '../../../client/src/ui/History';
import { bagCode, code, fakeApp, GROUP, M, P } from './fake';
import '../../../client/src/i18n/rest';

const NOW = Date.UTC(2026, 10, 25, 9);
const DAY = 86_400_000;
const part = (more: Partial<Part> = {}): Part => ({ n: 1, born: 1, id: 'x', stage: 'fruiting', since: NOW, ...more });
const target = (more: Partial<Target> = {}): Target => ({ code: bagCode(1), type: 'part', name: 'Bag A1', n: 1, of: [], part: part({ fill_g: 2400 }), ...more });

describe('routes', () => {
  it('survive codes, blanks and a lone per cent sign', () => {
    expect(parseHash(to('bag', 'B7K3Q9TZW'))).toMatchObject({ name: 'bag', args: ['B7K3Q9TZW'] });
    expect(parseHash('#/find?q=Fen%204').query.get('q')).toBe('Fen 4');
    expect(parseHash('#/c/%').args).toEqual(['%']);
    expect(parseHash('').name).toBe('');
  });
});

describe('a harvest', () => {
  it('is doubted when a bag would give more than it was filled with', () => {
    expect(doubt(target(), 2400)).toBeNull();
    expect(doubt(target(), 2401)).toEqual({ kind: 'absurd', a_bag: 2401 });
    expect(doubt(target({ n: 60, code: GROUP }), 60 * 2400)).toBeNull();
    expect(doubt(target({ part: part() }), 3001)).toMatchObject({ kind: 'absurd' });
  });
  it('of a bag whose life ended is asked about, whatever it weighs', () => expect(doubt(target({ part: part({ end: 'dumped' }) }), 300)).toEqual({ kind: 'ended', end: 'dumped' }));
  it('proposes a new flush after a rest only', () => expect([undefined, part(), part({ flush: 2 }), part({ flush: 1, next: 2 })].map(proposedFlush)).toEqual([1, 1, 2, 2]));
});

describe('acting on some of a group', () => {
  const group = target({ code: GROUP, n: 60, part: part({ n: 60 }) });
  const act = { ty: 'bag.soaked', d: {} };
  it('writes the split and the act on its child', () => expect(draftsFor(group, 20, act)).toEqual([{ ty: 'group.split', sub: [GROUP], d: { n: 20 } }, { ...act, sub: ['g-@0'] }]));
  it('names the whole group where all are meant', () => {
    expect(draftsFor(group, null, act)).toEqual([{ ...act, sub: [GROUP] }]);
    expect(draftsFor(group, 60, act)).toEqual([{ ...act, sub: [GROUP] }]);
    expect(draftsFor(target(), 1, act)).toEqual([{ ...act, sub: [bagCode(1)] }]);
  });
});

describe('leaving bags out', () => {
  const among = async (of: string, bag: string): Promise<boolean> => {
    setApp(fakeApp());
    const found = await findTarget(of);
    if (!found) throw new Error(`${of} is not in the fake farm`);
    return isAmong(found, bag);
  };
  it('knows the bags of a batch', async () => expect([await among(M.a, bagCode(1)), await among(M.b, bagCode(1)), await among(M.a, code('B0ZZZZZZ'))]).toEqual([true, false, false]));
  it('knows what stands on a shelf, and in the room around it', async () => {
    expect([await among(P.shelf, bagCode(20)), await among(P.rack, bagCode(20)), await among(P.fruit, bagCode(20))]).toEqual([true, true, false]);
  });
  it('is part of the record', () => expect(draftsFor(target({ type: 'place', code: P.shelf }), null, { ty: 'bag.checked', d: {}, except: [bagCode(20)] })).toEqual([{ ty: 'bag.checked', sub: [P.shelf], d: {}, except: [bagCode(20)] }]));
});

describe('a bag that is gone', () => {
  it('is so since its end, not since its last stage', () => {
    expect(sinceOf(part({ since: NOW - 20 * DAY, end: 'spent', ended: NOW - DAY }))).toBe(NOW - DAY);
    expect(sinceOf(part({ since: NOW - 20 * DAY }))).toBe(NOW - 20 * DAY);
  });
});

describe('a line of history', () => {
  const words = (k: string, d: Record<string, unknown>): string => dataWords({ id: 'x', k, t: NOW, s: [], d });
  it('says each figure with its unit', () => {
    expect(words('load.ran', { gauge_pa: 103_000, hold_min: 150 })).toMatch(/103 kPa/);
    expect(words('load.ran', { gauge_pa: 103_000, hold_min: 150 })).toMatch(/150 min/);
    expect(words('material.received', { price_minor: 1_250 })).toMatch(/12\.5$/);
  });
});

describe('answers', () => {
  const id = (n: number): string => `00000000-0000-7000-8000-${String(n).padStart(12, '0')}`;
  const line = (k: string, d: Record<string, unknown>, n: number, s = [bagCode(1), bagCode(2)]): Line => ({ id: id(n), k, t: NOW, s, d });
  const ask = (rule: string): Question => ({
    id: `${rule}:x`, rule, recs: [id(1), id(2)], sub: rule === 'label_twice' ? [bagCode(1), `g-${id(9)}.0`] : rule === 'reference' || rule === 'ring' ? [P.shelf] : [bagCode(1)],
    lines: rule === 'reference' ? [line('place.named', { name: 'A', type: 'shelf' }, 1, [P.shelf]), line('place.named', { name: 'B', type: 'shelf' }, 2, [P.shelf])] : [line('bag.moved', { to: P.shelf }, 1), line('bag.moved', { to: P.cold }, 2)],
    voids: [line('record.voided', { target: id(1) }, 3, [GROUP])],
  });
  const cases = Object.entries(ANSWERS).flatMap(([rule, answers]) => answers.map((a) => [rule, a.word, a] as const));

  it.each(cases)('%s, %s: every draft is a sound record', (rule, word, answer) => {
    const drafts = draftsOf(ask(rule), answer, (l) => code(`${l}0000099`));
    expect(drafts[0]).toMatchObject({ ty: 'question.answered', d: { question: `${rule}:x`, choice: word } });
    for (const d of drafts) expect(check(d.ty, 1, d.sub, d.d ?? {}), d.ty).toBeNull();
  });
  it('take a record back for the bag in question only', () => {
    const first = ANSWERS['two_places']?.find((a) => a.word === 'first');
    if (!first) throw new Error('no such answer');
    expect(draftsOf(ask('two_places'), first, () => '')[1]).toEqual({ ty: 'record.voided', sub: [bagCode(1)], d: { target: id(2) } });
  });
});

describe('a correction', () => {
  it('writes only what was changed, zeros and words included', () => {
    expect(changed({ g: 412, flush: 1, grade: 'first' }, { g: 421, flush: 1, grade: 'second', done: true })).toEqual({ g: 421, grade: 'second', done: true });
    expect(changed({ by: -2 }, { by: -2 })).toEqual({});
  });
  it('is offered where the fold takes one', () => {
    const line = (k: string): Line => ({ id: 'x', k, t: NOW, s: [], d: {} });
    expect([canAmend({ line: line('bag.harvested') }), canAmend({ line: line('record.voided') }), canAmend({ line: line('bag.checked') }), canAmend({ line: line('from.future') }), canAmend({ line: line('bag.harvested'), voided: true })]).toEqual([true, false, false, false, false]);
  });
});

describe('labels', () => {
  it('go on from this device’s own last number', () => {
    const parts = { a: part({ num: 'A9' }), b: part({ num: 'A12' }), c: part({ num: 'B40' }), d: part() };
    expect([nextNumber(parts, 'A'), nextNumber(parts, 'B'), nextNumber({}, 'C')]).toEqual(['A13', 'B41', 'C1']);
    expect([numberOf('A12', 3), numberOf('x', 1)]).toEqual(['A15', '']);
    expect(labelsOf([bagCode(1), bagCode(2)], { name: '25 Nov A1' }, 'A1')).toEqual([{ code: bagCode(1), batch: '25 Nov A1', number: 'A1' }, { code: bagCode(2), batch: '25 Nov A1', number: 'A2' }]);
  });
});

describe('the bag’s look', () => {
  it('grows white with the days and never says done by itself', () => {
    const runs = [0, 5, 10, 21, 200].map((d) => lookOf({ stage: 'spawn_run', since: NOW - d * DAY }, NOW).run);
    expect([...runs].sort((a, b) => a - b)).toEqual(runs);
    expect(runs[0]).toBeGreaterThan(0);
    expect(runs[4]).toBeLessThan(1);
    expect(lookOf({ stage: 'colonised', since: NOW }, NOW)).toMatchObject({ run: 1, brown: false });
    expect(lookOf({ stage: 'filled', since: NOW }, NOW).run).toBe(0);
  });
  it('is crossed when contaminated and pale when gone', () => expect(lookOf(part({ bad: { sign: 'cobweb', t: NOW }, end: 'dumped', flush: 2 }), NOW)).toEqual({ run: 1, brown: true, flushes: 2, bad: true, ended: 'dumped' }));
});

describe('an answer by batch', () => {
  const row = (batch: string, n: number): Found => ({ batch, name: batch, place: null, stage: 'filled', n, codes: [], since: NOW });
  it('adds up and puts the largest first', () => expect(byBatch([row('a', 3), row('b', 5), row('a', 4)]).map((g) => [g.batch, g.n, g.rows.map((r) => r.n)])).toEqual([['a', 7, [4, 3]], ['b', 5, [5]]]));
});

describe('a round', () => {
  it('has an id of the log’s form, each its own', () => {
    const made = Array.from({ length: 50 }, newRound);
    expect(made.every(isRecordId)).toBe(true);
    expect(new Set(made).size).toBe(50);
  });
});
