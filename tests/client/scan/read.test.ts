import { describe, expect, test } from 'vitest';
import { t } from '../../../client/src/i18n';
import { checkSymbol } from '../../../client/src/ids';
import { complaint, rank, read, readBest, type How, type Reading } from '../../../client/src/scan/read';

const make = (stem: string): string => stem + checkSymbol(stem);
const BAG = make('B7M2Q4TW');
const OTHER_BAG = make('B7M2Q5TW');
const options = (how: How = 'camera', known: string[] = []) => ({
  farmTag: '7K3Q',
  how,
  known: (code: string) => known.includes(code),
});

describe('a code is found whatever stands before it', () => {
  test.each([
    ['bare', BAG, null],
    ['with the farm', `7K3Q.${BAG}`, '7K3Q'],
    ['small letters', `7k3q.${BAG.toLowerCase()}`, '7K3Q'],
    ['an address', `HTTPS://FARM-7K3Q.LOCAL:8443/${BAG}`, null],
    ['an address with its slash', `https://farm-7k3q.local/${BAG}/`, null],
    ['an address with the farm', `HTTPS://192.168.1.50/7K3Q.${BAG}`, '7K3Q'],
    ['an address in a query', `https://example.test/?c=${BAG}`, null],
    ['in groups', `${BAG.slice(0, 3)} ${BAG.slice(3, 6)}-${BAG.slice(6)}`, null],
    ['with a phone keyboard’s dashes', `${BAG.slice(0, 3)}–${BAG.slice(3, 6)}\u00a0${BAG.slice(6)}\u200b`, null],
    ['with a line end', `${BAG}\r\n`, null],
  ])('%s', (_name, text, farm) => {
    expect(read(text, options())).toEqual({ kind: 'code', code: BAG, farm });
  });

  test('letters that look like figures', () => {
    const code = make('B0110110');
    expect(read(code.replace(/0/g, 'o').replace(/1/g, 'l'), options('typed'))).toEqual({ kind: 'code', code, farm: null });
  });

  test('before pairing every farm’s label is taken', () => {
    expect(read(`9ZZZ.${BAG}`, { ...options(), farmTag: null })).toEqual({ kind: 'code', code: BAG, farm: '9ZZZ' });
  });
});

describe('what is no code of ours', () => {
  test.each<[string, string, How, Reading]>([
    ['another farm’s label', `9ZZZ.${BAG}`, 'camera', { kind: 'other_farm', tag: '9ZZZ' }],
    ['another farm’s label in an address', `HTTPS://H.LOCAL/9ZZZ.${BAG}`, 'camera', { kind: 'other_farm', tag: '9ZZZ' }],
    ['a web address', 'https://example.test/spores', 'camera', { kind: 'not_ours', text: 'https://example.test/spores' }],
    ['a word of nine letters on a poster', 'CHOCOLATE', 'camera', { kind: 'not_ours', text: 'CHOCOLATE' }],
    ['a word that begins like a code', 'BANANABREAD', 'camera', { kind: 'not_ours', text: 'BANANABREAD' }],
    ['our farm’s label, printed wrongly', `7K3Q.${BAG}0`, 'camera', { kind: 'too_long', text: `${BAG}0`, extra: 1 }],
    ['a grocery’s number', '4006381333931', 'wedge', { kind: 'not_ours', text: '4006381333931' }],
    ['nothing typed', ' - ', 'typed', { kind: 'empty' }],
    ['only an address typed', 'https://farm.local/', 'typed', { kind: 'not_ours', text: 'https://farm.local/' }],
    ['too short, typed', 'B12', 'typed', { kind: 'too_short', text: 'B12', missing: 6 }],
    ['too long, typed', `${BAG}00`, 'typed', { kind: 'too_long', text: `${BAG}00`, extra: 2 }],
    ['an emoji is one symbol', 'B🍄', 'typed', { kind: 'too_short', text: 'B🍄', missing: 7 }],
    ['a symbol lost by a scanner', `7K3Q.${BAG.slice(0, 8)}`, 'wedge', { kind: 'too_short', text: BAG.slice(0, 8), missing: 1 }],
    ['an untagged part’s name is no tag', 'g-0190a6b0-1111-7222-8333-444455556666', 'camera', { kind: 'not_ours', text: 'g-0190a6b0-1111-7222-8333-444455556666' }],
  ])('%s', (_name, text, how, reading) => {
    expect(read(text, options(how))).toEqual(reading);
  });

  test('no text of any kind throws', () => {
    for (const text of ['\0', '\ud800', '‮7K3Q', '𝔹7M2Q4TW', 'İ'.repeat(40), 'B'.repeat(100_000)]) {
      for (const how of ['camera', 'wedge', 'typed'] as const) expect(read(text, options(how)).kind).not.toBe('code');
    }
  });
});

describe('a mistyped code', () => {
  const wrong = `${BAG.slice(0, 4)}${BAG[4] === '9' ? '8' : '9'}${BAG.slice(5)}`;
  const swapped = `${BAG.slice(0, 2)}${BAG[3]}${BAG[2]}${BAG.slice(4)}`;

  test('names the wrong symbol when the code meant is known', () => {
    const reading = read(wrong, options('typed', [BAG]));
    expect(reading).toEqual({ kind: 'mistyped', text: wrong, guesses: [{ code: BAG, position: 4, swap: false }] });
    expect(complaint(reading)).toEqual({ id: 'scan.read.mistyped_symbol', params: { text: wrong, code: BAG, place: 5 } });
  });

  test('names two that changed places', () => {
    const reading = read(swapped, options('typed', [BAG]));
    expect(reading).toEqual({ kind: 'mistyped', text: swapped, guesses: [{ code: BAG, position: 2, swap: true }] });
    expect(complaint(reading)).toEqual({ id: 'scan.read.mistyped_swap', params: { text: swapped, code: BAG, place: 3, next: 4 } });
  });

  test('names the last symbol as such, not as a swap', () => {
    const last = BAG.slice(0, 8) + (BAG[8] === '0' ? '1' : '0');
    expect(read(last, options('typed', [BAG]))).toMatchObject({ guesses: [{ code: BAG, position: 8, swap: false }] });
  });

  test('claims nothing when no known code is near', () => {
    const reading = read(wrong, options('typed', [OTHER_BAG]));
    expect(reading).toEqual({ kind: 'mistyped', text: wrong, guesses: [] });
    expect(complaint(reading)?.id).toBe('scan.read.mistyped');
  });
});

test('of the readings of a wedge scan the check symbol decides', () => {
  const azerty = `7K3Q:${BAG.replace('Q', 'A').replace('W', 'Z')}`;
  expect(readBest([azerty, `7K3Q.${BAG}`], options('wedge'))).toEqual({ kind: 'code', code: BAG, farm: '7K3Q' });
  expect(readBest([`7K3Q.${BAG}`, azerty], options('wedge'))).toEqual({ kind: 'code', code: BAG, farm: '7K3Q' });
  expect(readBest(['4006381333931', 'HELLO.WORLD'], options('wedge'))).toEqual({ kind: 'not_ours', text: '4006381333931' });
  expect(readBest([], options('wedge'))).toEqual({ kind: 'empty' });
});

test('a code of ours ranks before all else', () => {
  const kinds = [BAG, `9ZZZ.${BAG}`, 'https://example.test/'].map((text) => rank(read(text, options())));
  expect(kinds).toEqual([...kinds].sort((a, b) => a - b));
  expect(kinds[0]).toBeLessThan(kinds[1] as number);
});

test('a foreign text is told in one short line without marks that turn it', () => {
  const words = complaint({ kind: 'not_ours', text: `a\u202eb\0\n${'long '.repeat(50)}` });
  const text = String(words?.params['text']);
  expect([...text]).toHaveLength(40);
  expect(text.startsWith('a b long')).toBe(true);
});

test.each<Reading>([
  { kind: 'other_farm', tag: '9ZZZ' },
  { kind: 'not_ours', text: 'X' },
  { kind: 'mistyped', text: BAG, guesses: [] },
  { kind: 'mistyped', text: BAG, guesses: [{ code: OTHER_BAG, position: 4, swap: false }] },
  { kind: 'mistyped', text: BAG, guesses: [{ code: OTHER_BAG, position: 4, swap: true }] },
  { kind: 'mistyped', text: BAG, guesses: [1, 2].map((position) => ({ code: OTHER_BAG, position, swap: false })) },
  { kind: 'too_short', text: 'B', missing: 8 },
  { kind: 'too_long', text: 'B', extra: 1 },
  { kind: 'empty' },
])('there is a whole sentence for $kind', (reading) => {
  const { id, params } = complaint(reading) ?? { id: '', params: {} };
  const sentence = t(id, params);
  // An id without a text shows itself, a parameter without a value its braces.
  expect(sentence).not.toBe(id);
  expect(sentence).not.toMatch(/[{}#]/);
});
