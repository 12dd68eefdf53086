import { describe, expect, test } from 'vitest';
import { Burst, type Outcome, type Press } from '../../../client/src/scan/wedge';

/** A key as a US host sees it; `more` overrides what another host or a person makes of it. */
function key(symbol: string, at: number, more: Partial<Press> = {}): Press {
  const named: Record<string, string> = { '.': 'Period', '/': 'Slash', ':': 'Semicolon', '-': 'Minus' };
  const code = /[a-z]/i.test(symbol) && symbol.length === 1 ? `Key${symbol.toUpperCase()}` : /\d/.test(symbol) ? `Digit${symbol}` : (named[symbol] ?? symbol);
  const shiftKey = /[A-Z:]/.test(symbol) && symbol.length === 1;
  return { key: symbol, code, shiftKey, ctrlKey: false, metaKey: false, repeat: false, isComposing: false, timeStamp: at, ...more };
}

/** Presses all symbols `gap` ms apart, then the end key; the last outcome. */
function send(burst: Burst, text: string, gap: number, end = 'Enter', from = 1000): Outcome {
  let at = from;
  for (const symbol of text) {
    // Scanners press Shift before capitals; it is an event of its own.
    if (/[A-Z:]/.test(symbol)) burst.press(key('Shift', at));
    burst.press(key(symbol, at));
    at += gap;
  }
  return burst.press(key(end, at));
}

const TEXT = '7K3Q.B7M2Q4TWX';

describe('timing', () => {
  test.each([1, 2, 20, 49, 50])('keys %i ms apart are a scan', (gap) => {
    expect(send(new Burst(), TEXT, gap)).toEqual({ kind: 'scan', texts: [TEXT] });
  });
  test.each([51, 80, 120, 400])('keys %i ms apart are typing', (gap) => {
    expect(send(new Burst(), TEXT, gap).kind).toBe('other');
  });
  test('Tab ends a scan too', () => expect(send(new Burst(), TEXT, 5, 'Tab').kind).toBe('scan'));
  test('without an end key nothing is a scan', () => expect(send(new Burst(), TEXT, 5, 'a').kind).toBe('more'));
  test('an end key that comes late ends nothing', () => {
    const burst = new Burst();
    for (const [i, symbol] of [...TEXT].entries()) burst.press(key(symbol, i * 5));
    expect(burst.press(key('Enter', TEXT.length * 5 + 60)).kind).toBe('other');
  });
  test('three keys are a person’s', () => expect(send(new Burst(), 'B12', 5).kind).toBe('other'));
  test('four keys are a scan', () => expect(send(new Burst(), 'B123', 5)).toEqual({ kind: 'scan', texts: ['B123'] }));
  test('what was typed slowly before a scan is no part of it', () => {
    const burst = new Burst();
    ['1', '2', '5'].forEach((symbol, i) => burst.press(key(symbol, i * 150)));
    expect(send(burst, TEXT, 5)).toEqual({ kind: 'scan', texts: [TEXT] });
  });
  test('two scans in a row are two', () => {
    const burst = new Burst();
    expect(send(burst, TEXT, 3, 'Enter', 1000)).toEqual({ kind: 'scan', texts: [TEXT] });
    expect(send(burst, 'B7M2Q4TW0', 3, 'Enter', 1043)).toEqual({ kind: 'scan', texts: ['B7M2Q4TW0'] });
  });
});

describe('what is no scan', () => {
  test('a held key', () => {
    const burst = new Burst();
    for (let i = 0; i < 20; i += 1) burst.press(key('a', i * 30, { repeat: i > 0 }));
    expect(burst.press(key('Enter', 610)).kind).toBe('other');
  });
  test('a shortcut in between', () => {
    const burst = new Burst();
    'abc'.split('').forEach((symbol, i) => burst.press(key(symbol, i * 5)));
    burst.press(key('v', 15, { ctrlKey: true }));
    expect(burst.press(key('Enter', 20)).kind).toBe('other');
  });
  test('a word still being composed', () => {
    const burst = new Burst();
    'abcdef'.split('').forEach((symbol, i) => burst.press(key(symbol, i * 5, { isComposing: true })));
    expect(burst.press(key('Enter', 40)).kind).toBe('other');
  });
  test('keys without symbols', () => {
    const burst = new Burst();
    for (let i = 0; i < 9; i += 1) burst.press(key('ArrowDown', i * 5));
    expect(burst.press(key('Enter', 50)).kind).toBe('other');
  });
});

describe('another keyboard layout', () => {
  /** What an AZERTY host makes of a scanner set to US. */
  const AZERTY: Record<string, string> = { Q: 'A', W: 'Z', M: '?', 7: 'è', 3: '"', 2: 'é', 4: "'", '.': ':' };
  test('the keys are given in US positions as well', () => {
    const burst = new Burst();
    let at = 0;
    for (const symbol of TEXT) burst.press({ ...key(symbol, (at += 4)), key: AZERTY[symbol] ?? symbol });
    const heard = [...TEXT].map((symbol) => AZERTY[symbol] ?? symbol).join('');
    expect(burst.press(key('Enter', at + 4))).toEqual({ kind: 'scan', texts: [heard, TEXT] });
  });
  test('an address with colon and slashes comes out of US positions', () => {
    const address = 'HTTPS://H/B7M2Q4TWX';
    const burst = new Burst();
    let at = 0;
    for (const symbol of address) burst.press({ ...key(symbol, (at += 4)), key: /[:/]/.test(symbol) ? '#' : symbol });
    expect(burst.press(key('Enter', at + 4))).toEqual({ kind: 'scan', texts: ['HTTPS###H#B7M2Q4TWX', address] });
  });
  test('the number pad writes figures', () => {
    const burst = new Burst();
    '1234'.split('').forEach((symbol, i) => burst.press({ ...key(symbol, i * 4), code: `Numpad${symbol}` }));
    expect(burst.press(key('Enter', 20))).toEqual({ kind: 'scan', texts: ['1234'] });
  });
  test('a dead key on the host is no hole in US positions', () => {
    const burst = new Burst();
    'AB'.split('').forEach((symbol, i) => burst.press(key(symbol, i * 4)));
    burst.press({ ...key('-', 8), key: 'Dead' });
    'CD'.split('').forEach((symbol, i) => burst.press(key(symbol, 12 + i * 4)));
    expect(burst.press(key('Enter', 24))).toEqual({ kind: 'scan', texts: ['ABCD', 'AB-CD'] });
  });
});
