/** A scale's lines read, and its pan followed, with all that comes down a real cable. */
import { describe, expect, it } from 'vitest';
import { pickDoubt, weighDoubt } from '../../../client/src/scale/doubt';
import { Lines, readLine } from '../../../client/src/scale/lines';
import { NOISY, Pan } from '../../../client/src/scale/pan';

const w = (grams: number, still: boolean | null, unit: 'g' | 'kg' | 'lb' | 'oz') => ({ kind: 'weight', grams: expect.closeTo(grams, 6), unit, still });

describe('a line', () => {
  // Exact by definition: 1 lb = 453.59237 g, 1 oz = 1/16 lb (international avoirdupois pound, 1959).
  it.each([
    ['ST,GS,+0001.834kg', w(1834, true, 'kg')], ['US,NT,-  12 g', w(-12, false, 'g')], ['1834 g', w(1834, null, 'g')],
    ['\u0002 + 1.834 kg \u0003', w(1834, null, 'kg')], ['S  2.50 lb', w(2.5 * 453.59237, true, 'lb')], ['D  2.50 lb', w(2.5 * 453.59237, false, 'lb')],
    ['4 lb 3.2 oz', w(4 * 453.59237 + 3.2 * 28.349523125, null, 'lb')], ['16.0 oz ST', w(453.59237, true, 'oz')], ['1,834 kg', w(1834, null, 'kg')],
    ['1,834 g', w(1834, null, 'g')], ['12,5 g', w(12.5, null, 'g')], ['0.0 g ?', w(0, false, 'g')],
    ['OL', { kind: 'over' }], ['OL,GS,+9999.9kg', { kind: 'over' }], ['---OL---', { kind: 'over' }],
    ['1834', { kind: 'no_unit', figure: 1834 }], ['ST,+1.5', { kind: 'no_unit', figure: 1.5 }],
    ['', { kind: 'noise' }], ['hello', { kind: 'noise' }], ['ST,GS,+00\u00ff1.834kg', { kind: 'noise' }], ['1.8.3 kg', { kind: 'noise' }],
    ['9999 kg', { kind: 'noise' }], ['7K3Q.B0000001K', { kind: 'noise' }], ['B0000001K', { kind: 'noise' }],
  ])('%j', (text, reading) => expect(readLine(text)).toEqual(reading));

  it('takes the unit it was told of where it names none', () => expect(readLine('1.5', 'kg')).toEqual(w(1500, null, 'kg')));
});

describe('lines of a stream', () => {
  it('come whole however they were torn, but for the one that was going on', () => {
    const lines = new Lines();
    const all = ['34kg\r\nST,', 'GS,+1.834', 'kg\r', '\nUS,GS,+1.9kg\n\n\r'].flatMap((chunk) => lines.push(chunk));
    expect(all).toEqual(['ST,GS,+1.834kg', 'US,GS,+1.9kg']);
  });
  it('without an end are thrown away', () => {
    const lines = new Lines();
    lines.push('\n');
    expect(lines.push('x'.repeat(300))).toEqual([]);
    expect(lines.push('y\nST,GS,+1 kg\n')).toEqual(['ST,GS,+1 kg']);
  });
});

describe('the pan', () => {
  const feed = (pan: Pan, ...texts: string[]): string[] => texts.map((text) => pan.feed(readLine(text)).state);

  it('gives a load once, and not again before it was empty', () => {
    const pan = new Pan();
    expect(feed(pan, '0 g', '412 g', '412 g', '412 g', '412 g')).toEqual(['empty', 'moving', 'moving', 'moving', 'still']);
    expect(pan.take()).toBe(412);
    expect(pan.take()).toBeNull();
    expect(feed(pan, '412 g', '412 g', '900 g', '900 g', '900 g', '900 g')).toEqual(Array(6).fill('taken'));
    expect(feed(pan, '1 g', '0 g', '300 g', '300 g', '300 g', '300 g').at(-1)).toBe('still');
    expect(pan.take()).toBe(300);
  });
  it('believes the scale\u2019s own word for rest at the second time, never at the first', () => {
    const pan = new Pan();
    expect(feed(pan, 'ST,GS,+412 g', 'ST,GS,+412 g')).toEqual(['moving', 'still']);
  });
  it('is not still while it creeps, or while the scale says it moves', () => {
    const pan = new Pan();
    expect(feed(pan, '400 g', '402 g', '404 g', '406 g', '408 g', '410 g')).not.toContain('still');
    expect(feed(pan, ...Array(6).fill('US,GS,+410 g'))).not.toContain('still');
  });
  it('takes no torn line for a weight', () => {
    const pan = new Pan();
    expect(feed(pan, 'ST,GS,+1.834kg', '4kg', 'ST,GS,+1.834kg')).not.toContain('still');
  });
  it('does not take one low line for an empty pan', () => {
    const pan = new Pan();
    feed(pan, ...Array(4).fill('412 g'));
    pan.take();
    expect(feed(pan, '0 g', '412 g', '412 g', '412 g', '412 g').at(-1)).toBe('taken');
  });
  it('weighs without the crate, and is empty when only the crate stands there', () => {
    const pan = new Pan();
    pan.setTare(650);
    expect(feed(pan, '650 g', '650 g')).toEqual(['empty', 'empty']);
    expect(feed(pan, ...Array(4).fill('1062 g')).at(-1)).toBe('still');
    expect(pan.take()).toBe(412);
    expect(feed(pan, '0 g', '0 g').at(-1)).toBe('empty');
  });
  it('tells a switched unit, and weighs the same afterwards', () => {
    const pan = new Pan();
    feed(pan, ...Array(3).fill('1.000 kg'));
    expect(pan.feed(readLine('2.2046 lb'))).toMatchObject({ unitChanged: true, state: 'moving' });
    feed(pan, ...Array(3).fill('2.2046 lb'));
    expect(pan.take()).toBe(1000);
  });
  it('tells noise after many lines, an overload at once, and goes on', () => {
    const pan = new Pan();
    const noise = Array.from({ length: NOISY }, () => pan.feed(readLine('\u00ff\u00fe')).noisy);
    expect(noise).toEqual([...Array(NOISY - 1).fill(false), true]);
    expect(feed(pan, 'OL')).toEqual(['over']);
    expect(feed(pan, ...Array(4).fill('412 g')).at(-1)).toBe('still');
  });
});

describe('a doubt', () => {
  const known = { n: 1, fill_g: 2500, moisture: 6000, picked: {}, flush: 1 };
  it.each([
    [300, known, null],
    [2600, known, { kind: 'wet', each: 2600, fill_g: 2500 }],
    // 2,500 g at 60 % wet basis are 1,000 g dry.
    [1001, known, { kind: 'dry', each: 1001, dry_g: 1000 }],
    [600, { ...known, picked: { 1: 500 } }, { kind: 'dry', each: 1100, dry_g: 1000 }],
    [470, { ...known, picked: { 1: 300 }, flush: 2 }, { kind: 'flush', total: 470, best: 300 }],
    [450, { ...known, picked: { 1: 300 }, flush: 2 }, null],
    [3001, { n: 1, picked: {}, flush: 1 }, { kind: 'heavy', each: 3001 }],
    [30_000, { n: 60, picked: {}, flush: 1 }, null],
  ])('%i g of %j', (g, about, doubt) => expect(pickDoubt(g, about)).toEqual(doubt));
  it.each([
    [2480, { before_g: 2500, soaked: false }, null], [2700, { before_g: 2500, soaked: false }, 'gained'], [2700, { before_g: 2500, soaked: true }, null],
    [900, { before_g: 2500, soaked: false }, 'lost'], [900, { soaked: false }, null],
  ])('a bag of %i g, %j', (g, about, kind) => expect(weighDoubt(g, about)?.kind ?? null).toBe(kind));
});
