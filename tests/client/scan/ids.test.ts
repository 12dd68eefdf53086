/** Codes on tags, held by the vectors that the server's twin reads too (tests/contract/test_ids.py). */
import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ALPHABET, TYPES, checkSymbol, guesses, isCode, isFarmTag, isRecordId, newCode, normalise, typeOf } from '../../../client/src/ids';

interface Vectors {
  check: { body: string; check: string }[];
  codes: { text: string; valid: boolean; why: string }[];
  normalise: { text: string; out: string; why: string }[];
  guesses: { text: string; known: string[]; out: { code: string; position: number }[]; why: string }[];
  types: { text: string; type: string; why: string }[];
}
const vectors = JSON.parse(readFileSync(new URL('../../../fixtures/ids/codes.json', import.meta.url), 'utf8')) as Vectors;

describe('vectors', () => {
  test.each(vectors.check)('check symbol of $body is $check', ({ body, check }) => {
    expect(checkSymbol(body)).toBe(check);
    expect(isCode(body + check)).toBe(true);
  });
  test.each(vectors.codes)('is a code, or not: $why', ({ text, valid }) => expect(isCode(text)).toBe(valid));
  test.each(vectors.normalise)('normalise: $why', ({ text, out }) => expect(normalise(text)).toBe(out));
  test.each(vectors.types)('type: $why', ({ text, type }) => expect(typeOf(text)).toBe(type));
  test.each(vectors.guesses)('guesses: $why', ({ text, known, out }) => {
    expect(guesses(text, (code) => known.includes(code))).toEqual(out);
  });
});

const symbol = fc.constantFrom(...ALPHABET);
const body = fc
  .tuple(fc.constantFrom(...TYPES), fc.array(symbol, { minLength: 7, maxLength: 7 }))
  .map(([letter, seven]) => letter + seven.join(''));

test('one wrong symbol is always caught, and the code meant is among the guesses', () => {
  fc.assert(
    fc.property(body, fc.nat(8), symbol, (start, at, wrong) => {
      const code = start + checkSymbol(start);
      fc.pre(wrong !== code[at]);
      const typed = code.slice(0, at) + wrong + code.slice(at + 1);
      expect(isCode(typed)).toBe(false);
      expect(guesses(typed)).toContainEqual({ code, position: at + 1 });
    }),
  );
});

test('at most one symbol fits each place', () => {
  fc.assert(
    fc.property(fc.array(symbol, { minLength: 9, maxLength: 9 }), (symbols) => {
      const text = symbols.join('');
      fc.pre(!isCode(text));
      expect(guesses(text).length).toBeLessThanOrEqual(9 + 8);
    }),
  );
});

test('a check symbol is refused for what is not of the alphabet', () => {
  expect(() => checkSymbol('B12U4567')).toThrow(RangeError);
});

test('new codes check and differ', () => {
  const made = Array.from({ length: 200 }, () => newCode('P'));
  expect(made.every((code) => isCode(code) && typeOf(code) === 'P')).toBe(true);
  expect(new Set(made).size).toBe(200);
});

test('record ids and farm tags', () => {
  expect(isRecordId('0190a6b0-1111-7222-8333-444455556666')).toBe(true);
  expect(isRecordId('0190A6B0-1111-7222-8333-444455556666')).toBe(false);
  expect(isFarmTag('7K3Q')).toBe(true);
  expect(['7K3', '7K3QQ', '7k3q', '7K3U', '7K3Q\n'].some(isFarmTag)).toBe(false);
});
