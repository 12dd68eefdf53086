/** Which batches a device keeps as a summary only, held by the vectors the server reads too (tests/contract/test_scope.py). */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import type { Row } from '../../../client/src/fold';
import type { Data } from '../../../client/src/line';
import { isArchived } from '../../../client/src/scope';

interface Case { why: string; unit: string; parts: Record<string, Data>; newest: number[]; questions: number; held: number; archived: boolean }
const file = JSON.parse(readFileSync(new URL('../../../fixtures/scope/archived.json', import.meta.url), 'utf8')) as { now: number; cases: Case[] };

test.each(file.cases)('C5 archived: $why', ({ unit, parts, newest, questions, held, archived }) => {
  const row = {
    unit, parts, v: 1, lines: newest.map((e) => ({ e })), questions: Array(questions).fill({ id: 'count_negative' }), held: Array(held).fill({ id: 'x' }),
  } as unknown as Row;
  expect(isArchived(row, file.now)).toBe(archived);
});
