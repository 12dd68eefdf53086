/**
 * The short codes on tags: nine symbols, of which the last catches a wrong one.
 * Twin of server/bagtrail/ids.py; both are held by fixtures/ids/codes.json. Pure, but for newCode.
 *
 * A code is a type letter, seven symbols of Crockford's base 32 and a check symbol (Luhn mod 32 over
 * the letter and the seven). Entities without a tag are named by a word and a record id.
 */

/** Source: Crockford's base 32 (no I, L, O, U); https://www.crockford.com/base32.html */
export const ALPHABET = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';

/** B bag, G group, P place, S spawn lot, H load, M batch, K crate, W person, X command. */
export const TYPES = 'BGPSHMKWX';

export const CODE_LENGTH = 9;

const UUID = '[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}';
const CODE = new RegExp(`^[${TYPES}][${ALPHABET}]{8}$`);
const RECORD_ID = new RegExp(`^${UUID}$`);
const NAMED = new RegExp(`^(?:strain|material|recipe|plan|vessel)-${UUID}$`);
const UNTAGGED = new RegExp(`^g-${UUID}(?:\\.[0-9]{1,4})?$`);
const FARM_TAG = new RegExp(`^[${ALPHABET}]{4}$`);

/** A code that one slip would turn into what was typed; `position` counts from 1. */
export interface Guess {
  code: string;
  position: number;
}

/**
 * The check symbol of a type letter and seven symbols, e.g. B0000000 -> N.
 *
 * Source: Luhn mod N (ISO/IEC 7812-1 Annex B widened to 32 symbols), as in python-stdnum.
 * Throws RangeError for a symbol outside the alphabet.
 */
export function checkSymbol(body: string): string {
  const n = ALPHABET.length;
  let sum = 0;
  for (let i = 0; i < body.length; i += 1) {
    const value = ALPHABET.indexOf(body[i] as string);
    if (value < 0) throw new RangeError(`not a code symbol: ${body[i]} in ${body}`);
    // Counted from the right: the symbol beside the check symbol is doubled, then every second one.
    const doubled = (body.length - i) % 2 === 1;
    sum += doubled ? Math.floor((value * 2) / n) + ((value * 2) % n) : value;
  }
  return ALPHABET[(n - (sum % n)) % n] as string;
}

/** Whether a text is a written code: right form and right check symbol. */
export function isCode(text: string): boolean {
  return CODE.test(text) && checkSymbol(text.slice(0, -1)) === text[CODE_LENGTH - 1];
}

/** Whether a text is a record id: a UUID in lower case. */
export function isRecordId(text: string): boolean {
  return RECORD_ID.test(text);
}

/** Whether a text is a farm's tag: four symbols of the alphabet. */
export function isFarmTag(text: string): boolean {
  return FARM_TAG.test(text);
}

/** What a code names: a type letter (untagged parts are G), a word, or '' when it is none. */
export function typeOf(code: string): string {
  if (isCode(code)) return code[0] as string;
  if (UNTAGGED.test(code)) return 'G';
  if (NAMED.test(code)) return code.slice(0, code.indexOf('-'));
  return '';
}

/** A random code of one type; 35 random bits, so ask whether it is free. */
export function newCode(letter: string): string {
  // 256 is a multiple of 32: five bits of each byte are evenly spread.
  const seven = [...crypto.getRandomValues(new Uint8Array(7))].map((byte) => ALPHABET[byte & 31]).join('');
  return letter + seven + checkSymbol(letter + seven);
}

// Exactly the blanks of Python's \s (JavaScript's has U+FEFF and lacks 1C-1F and 85), and the hyphen.
const IGNORED = /[\t-\r\x1c-\x20\x85\xa0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000-]/g;

/** Typed text in written form: upper case, no blanks or hyphens, O is 0, I and L are 1. */
export function normalise(text: string): string {
  return text.replace(IGNORED, '').toUpperCase().replace(/O/g, '0').replace(/[IL]/g, '1');
}

/**
 * The codes one wrong symbol or one swap of neighbours away from a mistyped one.
 *
 * `text` is nine symbols in written form whose check symbol does not fit; `known` tells whether a code
 * was ever issued, without it every code that checks is listed (at most 9 + 8).
 */
export function guesses(text: string, known: (code: string) => boolean = () => true): Guess[] {
  const symbols = [...text];
  if (symbols.length !== CODE_LENGTH) return [];
  const found: Guess[] = [];
  const consider = (changed: string[], position: number): void => {
    const code = changed.join('');
    if (code !== text && isCode(code) && known(code)) found.push({ code, position });
  };
  for (let i = 0; i < CODE_LENGTH; i += 1) {
    for (const symbol of i === 0 ? TYPES : ALPHABET) {
      consider([...symbols.slice(0, i), symbol, ...symbols.slice(i + 1)], i + 1);
    }
  }
  for (let i = 0; i + 1 < CODE_LENGTH; i += 1) {
    const [first, second] = symbols.slice(i) as [string, string];
    consider([...symbols.slice(0, i), second, first, ...symbols.slice(i + 2)], i + 1);
  }
  return found;
}
