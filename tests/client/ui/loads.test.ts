/** What the load screens work out: states, cooling, how long a mix stood, the vessel's own record. */
import { describe, expect, it } from 'vitest';
import vectors from '../../../fixtures/loads/own_record.json';
import type { Ref } from '../../../client/src/app-types';
import type { Brief } from '../../../client/src/findindex';
import { batchesIn, cooled, inOrder, isUnrecorded, markOf, ownRecord, stateOf, stoodMs } from '../../../client/src/screens/loads';
import { notKnown, unrecorded } from '../../../client/src/round/unrecorded';

const T = 1_780_000_000_000;
const H = 3_600_000;
const brief = (unit: string, n: number, more: Partial<Brief> = {}): Brief => ({
  unit, code: `g-${unit}${n}`, num: '', stage: 'sterilised', ended: false, place: '', strain: '', n, since: T, next: 1, bad: false, load: '', gate: '', ...more,
});

describe('the own record of a vessel', () => {
  it.each(vectors.cases.map((c) => [c.name, c] as const))('%s', (_name, { like, loads, bags, own }) => {
    const parts = bags as unknown as Record<string, [number, boolean][]>;
    expect(ownRecord(like, loads as unknown as Ref['loads'], (code) => (parts[code] ?? []).map(([n, bad]) => brief('M', n, { bad })))).toEqual(own);
  });
});

describe('the state of a load', () => {
  it('is its result, once it was told', () => {
    for (const result of ['passed', 'failed', 'unsure']) expect(stateOf({ result, begun: T }, T + 900 * H)).toBe(result);
  });
  it('is being filled, then hot, then missing when it must be over', () => {
    expect(stateOf({ made: T }, T + H)).toBe('filling');
    expect(stateOf({ made: T }, T + 49 * H)).toBe('missing');
    const run = { made: T, begun: T, heat_min: 60, hold_min: 150, cool_min: 600 };
    expect(stateOf(run, T + 14 * H)).toBe('running');
    expect(stateOf(run, T + 15 * H)).toBe('missing');
    expect(stateOf({ made: T, begun: T }, T + 24 * H)).toBe('running');
    expect(stateOf({ made: T, begun: T }, T + 26 * H)).toBe('missing');
  });
  it('has a shape of its own for each, and amber for what nobody recorded', () => {
    expect(['passed', 'failed', 'unsure', 'missing', 'filling'].map((s) => markOf(s as 'passed'))).toEqual(['ok', 'bad', 'ask', 'ask', 'care']);
    expect(['passed', 'failed', 'unsure', 'missing'].map((s) => isUnrecorded(s as 'passed'))).toEqual([false, false, true, true]);
  });
  it('is asked once: not when it was told, nor when somebody was asked', () => {
    expect([{ gate: 'open' }, { gate: 'unsure' }, { gate: 'unsure', asked: true }, { gate: 'passed' }, { gate: 'failed' }, {}].map(unrecorded))
      .toEqual([true, true, false, false, false, false]);
    expect(notKnown('H0000001D').d).toEqual({ result: 'unsure', asked: true });
  });
  it('puts open loads first, then the newest', () => {
    const loads = { a: { made: T, result: 'passed' }, b: { made: T + H }, c: { made: T + 2 * H, result: 'failed' } };
    expect(inOrder(loads, T + 3 * H).map(([code]) => code)).toEqual(['b', 'c', 'a']);
  });
});

describe('cooling', () => {
  it('is counted from heat off, else from the plan, else from the result, and says which', () => {
    expect(cooled({ off: T, begun: T - 9 * H, heat_min: 60, hold_min: 60, cool_min: 90 })).toEqual({ at: T + 1.5 * H, basis: 'off', heat_off: T, cool_min: 90 });
    expect(cooled({ begun: T, heat_min: 60, hold_min: 120, cool_min: 60, ran: T + 90 * H })).toMatchObject({ at: T + 4 * H, basis: 'begun' });
    expect(cooled({ ran: T, cool_min: 60 })).toMatchObject({ at: T + H, basis: 'ran' });
    expect(cooled({ ran: T })).toMatchObject({ at: null, basis: 'ran' });
    expect(cooled({})).toMatchObject({ at: null, basis: 'unknown' });
  });
});

describe('a wetted mix', () => {
  it('stands until the heat is on, or until now; the oldest counts', () => {
    expect(stoodMs({}, [T, T - 2 * H, undefined], T + H)).toBe(3 * H);
    expect(stoodMs({ begun: T + H }, [T], T + 50 * H)).toBe(H);
    expect(stoodMs({ result: 'passed' }, [T], T + 50 * H)).toBe(null);
    expect(stoodMs({}, [undefined], T)).toBe(null);
  });
});

it('sums the bags of a load by batch, losses by cause', () => {
  const parts = [brief('M2', 4), brief('M1', 30), brief('M1', 2, { stage: 'burst', ended: true }), brief('M1', 1, { stage: 'melted', ended: true }), brief('M2', 1, { bad: true })];
  expect(batchesIn(parts, (code) => code).map(({ code, n, live, bad, burst, melted }) => [code, n, live, bad, burst, melted]))
    .toEqual([['M1', 33, 30, 0, 2, 1], ['M2', 5, 5, 1, 0, 0]]);
});
