/** Old versions of a kind are read as the server reads them: the same vectors as tests/server/test_upcast.py. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import vectors from '../../../fixtures/upcast/steps.json';
import { KINDS, type Kind } from '../../../client/src/catalogue';
import { lineOf } from '../../../client/src/line';
import { upcast } from '../../../client/src/upcast';

const kind = vectors.kind as unknown as Kind;
const kinds = KINDS as Map<string, Kind>;

beforeAll(() => { kinds.set(kind.name, kind); });
afterAll(() => { kinds.delete(kind.name); });

describe('upcast', () => {
  it.each(vectors.cases)('version $version: $d', ({ version, d, today, held }) => {
    const before = JSON.stringify(d);
    if (today) expect(upcast(kind, version, d)).toEqual(today);
    expect(JSON.stringify(d)).toBe(before);
    const line = lineOf(JSON.stringify({
      v: 1, id: '00000000-0000-7000-8000-000000000001', dev: 'd0123456789abcdef', gen: 1, st: 'aaaaaaaaaaaaaaaa', sq: 1, at: 1,
      ty: kind.name, tv: version, sub: ['B0000001K'], base: '', by: '', d,
    }));
    expect(line.w).toBe(held);
    expect(line.d).toEqual(today ?? d);
    expect(line.tv).toBe(today ? kind.version : version);
  });
});
