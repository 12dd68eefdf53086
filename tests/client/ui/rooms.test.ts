/** The rooms as their picture needs them. */
import { describe, expect, it } from 'vitest';
import type { Found } from '../../../client/src/app-types';
import { allWanted, each, rooms } from '../../../client/src/screens/rooms';

const places = {
  PR: { name: 'Room 1', type: 'room' }, PA: { name: 'Rack 2', type: 'rack', within: 'PR' }, PB: { name: 'Shelf 10', type: 'shelf', within: 'PA', holds: 40 },
  PC: { name: 'Shelf 9', type: 'shelf', within: 'PA' }, PT: { name: 'Trolley', type: 'trolley' }, PX: { name: 'X', type: 'rack', within: 'PY' }, PY: { name: 'Y', type: 'rack', within: 'PX' },
};
const row = (place: string, stage: string, n: number, batch = 'M1', bad = false): Found => ({ batch, name: batch, place, stage, n, codes: [], since: 0, ...(bad ? { bad } : {}) });
const made = rooms(places, [row('PB', 'spawn_run', 30), row('PB', 'filled', 4, 'M2'), row('PB', 'spawn_run', 2, 'M1', true), row('PR', 'fruiting', 1)], ['filled', 'spawn_run', 'fruiting'], 'M1');

describe('rooms', () => {
  it('nest as they were named, by name and number', () => expect(made[0]?.inside[0]?.inside.map((s) => s.code)).toEqual(['PC', 'PB']));
  it('count by stage in the order of life, contaminated ones apart', () =>
    expect(made[0]?.inside[0]?.inside[1]).toMatchObject({ n: 36, holds: 40, wanted: 32, stages: [['filled', 4], ['spawn_run', 30], ['bad', 2]] }));
  it('count the wanted batch all through', () => expect(made.map(allWanted)).toEqual([33, 0]));
  it('draw what is in no room, and a ring, once', () => {
    const names = JSON.stringify(made[1]).match(/"code":"P."/g);
    expect(made[1]?.code).toBe('');
    expect(names?.sort()).toEqual(['"code":"PT"', '"code":"PX"', '"code":"PY"']);
  });
  it('draw at most so many bags', () => expect([each(0, 20), each(20, 20), each(21, 20), each(800, 20)]).toEqual([1, 1, 2, 40]));
});
