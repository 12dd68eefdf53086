/** Prints as records and the paper of a device: what the screens of labels compute. */
import { beforeEach, describe, expect, it } from 'vitest';
import type { HistoryLine, Label } from '../../../client/src/app-types';
import { layoutText } from '../../../client/src/labels/ask';
import { cellsOf, keepPrinter, measures, onPaper, printer, startAfter, USUAL } from '../../../client/src/labels/printer';
import { between, printedDrafts, printsOf } from '../../../client/src/labels/prints';
import { check } from '../../../client/src/check';
import { checkSymbol, newCode } from '../../../client/src/ids';
import { setApp } from '../../../client/src/ui/app';
import { fakeApp } from './fake';

const B = (n: number): string => { const body = `B${String(n).padStart(7, '0')}`; return body + checkSymbol(body); };
const labels = (n: number): Label[] => Array.from({ length: n }, (_, i) => ({ code: B(i), number: `A${i + 1}` }));

beforeEach(() => {
  const kept = new Map<string, string>();
  Object.defineProperty(globalThis, 'localStorage', { configurable: true, value: {
    getItem: (k: string) => kept.get(k) ?? null, setItem: (k: string, v: string) => void kept.set(k, v), removeItem: (k: string) => void kept.delete(k),
  } });
  setApp(fakeApp());
});

describe('a print', () => {
  it('names known codes as subjects and unborn ones as blank, each once, in records that hold them', () => {
    const [again] = printedDrafts([...labels(2), ...labels(2)], 'again', 'roll-50x30');
    expect(again).toEqual({ ty: 'label.printed', sub: [B(0), B(1)], d: { n: 2, job: 'again', stock: 'roll-50x30' } });
    const blank = printedDrafts(labels(2_000), 'blank', 'a4-24');
    expect(blank.map(({ sub, d }) => [sub.length, d?.['n'], (d?.['codes'] as string[]).length])).toEqual([[0, 900, 900], [0, 900, 900], [0, 200, 200]]);
    for (const { sub, d } of [again as never, ...blank] as { sub: string[]; d: Record<string, unknown> }[]) {
      expect(check('label.printed', 1, sub, d)).toBeNull();
      expect(JSON.stringify({ sub, d }).length).toBeLessThan(16_384);
    }
  });
  it('of measured paper says no name', () => expect(printedDrafts(labels(1), 'first', '{"columns":3}')[0]?.d).toEqual({ n: 1, job: 'first' }));
  it('is found again as one, though three records tell it; a voided one is none', () => {
    const line = (id: string, codes: string[], a = ''): HistoryLine => ({ line: { id, k: 'label.printed', t: 5, s: [], a: 'o', ...(a ? { g: a } : {}), by: 'W1', d: { n: codes.length, job: 'blank', codes } } });
    const records = [line('r3', [B(3)], 'act'), line('r2', [B(1), B(2)], 'act'), { ...line('r1', [B(9)]), voided: true }];
    expect(printsOf([line('r5', [B(5)]), line('r4', [B(4)])])).toHaveLength(2);
    expect(printsOf(records)).toEqual([{ id: 'r3', at: 5, by: 'W1', n: 3, job: 'blank', stock: '', codes: [B(1), B(2), B(3)] }]);
  });
});

describe('a range of labels', () => {
  const ten = labels(12);
  it.each([
    ['', '', 12], ['A2', 'A2', 1], ['A9', 'A10', 2], ['a9', 'a10', 2], ['A11', '', 2], ['', 'A3', 3], ['B1', 'B9', 0], ['A10', 'A9', 0],
  ])('%s to %s', (from, to, n) => expect(between(ten, from, to)).toHaveLength(n));
  it('leaves tags without a number out', () => expect(between([{ code: newCode('G') }, ...ten], 'A1', 'A99')).toHaveLength(12));
});

describe('the paper of a device', () => {
  it('is the usual sheet until one is chosen', () => expect(printer()).toEqual({ stock: USUAL, dpi: 203, x: 0, y: 0, start: 0 }));
  it('is kept, and the next job begins where the last one ended', () => {
    const on = { stock: 'a4-24', dpi: 300, x: 0.5, y: -1, start: 20 };
    keepPrinter(on);
    expect(printer()).toEqual(on);
    expect([startAfter(on, 3), startAfter(on, 4), startAfter(on, 30)]).toEqual([23, 0, 2]);
    expect(startAfter({ ...on, stock: 'roll-50x30', start: 0 }, 7)).toBe(0);
    expect(onPaper(on)).toEqual({ stock: 'a4-24', dpi: 300, language: 'en-GB', nudge_x: 0.5, nudge_y: -1 });
  });
  it.each(['{broken', '[]', '5', '{"stock":5,"dpi":"300","x":99,"start":-2}', '{"stock":"","start":1e9}'])('a stranger\'s %s is not believed', (text) => {
    localStorage.setItem('bagtrail.printer', text);
    expect(printer()).toEqual({ stock: USUAL, dpi: 203, x: 0, y: 0, start: 0 });
  });
  it.each([['a4-65', 65], ['letter-30', 30], ['roll-25x25', 1], ['{"columns":3,"rows":4}', 12], ['{bad', 1]])('%s has %i cells', (stock, cells) => expect(cellsOf(stock)).toBe(cells));
  it('measures go as an object', () => expect(onPaper({ stock: '{"columns":1}', dpi: 203, x: 0, y: 0, start: 0 }).stock).toEqual(measures('{"columns":1}')));
});

it('a layout is told in the words that the farm\'s computer reads', () =>
  expect(layoutText([{ field: 'number', size: 'large', lines: 1, bold: true }, { field: 'what', size: 'normal', lines: 2, bold: false }, { field: 'day', size: 'normal', lines: 1, bold: false }]))
    .toBe('number large bold, what 2, day'));
