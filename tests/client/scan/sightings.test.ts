import { describe, expect, test } from 'vitest';
import { has } from '../../../client/src/i18n';
import { Sightings, shown, tell } from '../../../client/src/scan/feedback';

describe('sightings', () => {
  test('a label that stays in view is news once', () => {
    const sightings = new Sightings();
    expect(sightings.inView('B1', 0)).toEqual({ again: false });
    for (let at = 100; at <= 20_000; at += 100) expect(sightings.inView('B1', at)).toBeNull();
  });
  test('a frame or two missed is no leaving', () => {
    const sightings = new Sightings();
    sightings.inView('B1', 0);
    expect(sightings.inView('B1', 1499)).toBeNull();
  });
  test('a label that comes back within 3 s is told as again', () => {
    const sightings = new Sightings();
    sightings.inView('B1', 0);
    expect(sightings.inView('B1', 1500)).toEqual({ again: true });
    expect(sightings.inView('B1', 4499)).toEqual({ again: true });
  });
  test('after 3 s it is a scan like any other', () => {
    const sightings = new Sightings();
    sightings.inView('B1', 0);
    expect(sightings.inView('B1', 3000)).toEqual({ again: false });
  });
  test('another label is news at once, and the first still in view is none', () => {
    const sightings = new Sightings();
    sightings.inView('B1', 0);
    expect(sightings.inView('B2', 50)).toEqual({ again: false });
    expect(sightings.inView('B1', 100)).toBeNull();
  });
  test('each wedge scan is an act, told as again within 3 s', () => {
    const sightings = new Sightings();
    expect(sightings.byHand('B1', 0)).toEqual({ again: false });
    expect(sightings.byHand('B1', 200)).toEqual({ again: true });
    expect(sightings.byHand('B1', 3200)).toEqual({ again: false });
  });
  test('a wedge scan of what the camera just saw is told as again', () => {
    const sightings = new Sightings();
    sightings.inView('B1', 0);
    expect(sightings.byHand('B1', 500)).toEqual({ again: true });
  });
});

test('every outcome has its own shape and word, and telling works without sound or motor', () => {
  const outcomes = ['read', 'taken', 'again', 'wrong'] as const;
  const told = outcomes.map(tell);
  expect(new Set(told.map(({ shape }) => shape)).size).toBe(outcomes.length);
  expect(new Set(told.map(({ word }) => word)).size).toBe(outcomes.length);
  expect(told).toEqual(outcomes.map(shown));
  expect(told.filter(({ word }) => !has(word))).toEqual([]);
});
