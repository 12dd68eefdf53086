/** Which data may be folded, held by the vectors the server reads too (tests/contract/test_check.py). */
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { check } from '../../../client/src/check';

interface Case { why: string; sub: string[]; d: Record<string, unknown>; tv?: number; reason?: string }
interface File { kind: string; valid: Case[]; invalid: Case[] }

const folder = new URL('../../../fixtures/check/', import.meta.url);
const files = readdirSync(folder).filter((name) => name.endsWith('.json')).sort()
  .map((name) => JSON.parse(readFileSync(new URL(name, folder), 'utf8')) as File);

describe.each(files)('$kind', ({ kind, valid, invalid }) => {
  test('what may be folded', () => {
    const refused = valid.map((one) => [one, check(kind, 1, one.sub, one.d)]).filter(([, why]) => why !== null);
    expect(refused).toEqual([]);
  });
  test('what is held, and why', () => {
    const found = invalid.map((one) => ({ ...one, reason: check(kind, one.tv ?? 1, one.sub, one.d) }));
    expect(found).toEqual(invalid);
  });
});
