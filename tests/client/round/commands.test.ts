/** Command tags: each has one code, no two share one, and a printed card stays good for years. */
import { describe, expect, it } from 'vitest';
import { isCode } from '../../../client/src/ids';
import { COMMANDS, codeOf, commandOf } from '../../../client/src/round/commands';
import { KINDS } from '../../../client/src/catalogue';
import { NAMES, PURPOSES } from '../../../client/src/round/purposes';

describe('command tags', () => {
  it('are right codes of type X, each of its own, and read back', () => {
    const codes = COMMANDS.map(codeOf);
    expect(codes.every((code) => isCode(code) && code.startsWith('X'))).toBe(true);
    expect(new Set(codes).size).toBe(COMMANDS.length);
    expect(codes.map(commandOf)).toEqual(COMMANDS);
  });

  // Worked out with python-stdnum's luhn over Crockford's alphabet; a changed number would make old cards lie.
  it.each([['done', 'X00000011'], ['undo', 'X0000002Z'], ['digit.7', 'X0000017M'], ['purpose.move', 'X0000031Y']])('%s stays %s', (word, code) => expect(codeOf(word)).toBe(code));

  it('say nothing for a tag of a later version', () => expect(commandOf('X0009999Z')).toBe(null));
  it('refuse a word that is none', () => expect(() => codeOf('nothing')).toThrow(RangeError));

  it('cover every purpose and every choice a round asks for', () => {
    const missing = NAMES.filter((name) => !COMMANDS.includes(`purpose.${name}`));
    for (const { ty, closes, choices } of Object.values(PURPOSES)) {
      for (const field of choices) {
        const words = KINDS.get(closes ?? ty)?.fields.find((f) => f.name === field)?.choices ?? [];
        expect(words.length, `${ty} ${field}`).toBeGreaterThan(1);
        missing.push(...words.map((word) => `${field}.${word}`).filter((word) => !COMMANDS.includes(word)));
      }
    }
    expect(missing).toEqual([]);
  });
});
