/** What the contract tests compare with Python: a log folded, as canonical JSON. Not part of the app. */
import { findRowOf } from './findrow';
import { Farm, type Unit } from './fold';
import { lineOf, NotARecord, type Data, type Line, type Receipt } from './line';
import { summary } from './rules';
import { mayRest, summaryRow } from './scope';

export type Sent = [text: string, receipt: Receipt | null, pos: number, role: string];

/** Lines, rows, sums and histories of a log; twin of `folded` in tests/contract/folding.py. */
export function foldLog(job: { epochs: string[]; sent: Sent[] }): string {
  const farm = new Farm();
  farm.index.epochs = job.epochs;
  const lines = job.sent.map(readLine);
  for (const line of lines) if (line) farm.add(line);
  return canonical({ lines, ...stateOf(farm) });
}

/** Everything a farm answers. */
export function stateOf(farm: Farm): Data {
  const rows = farm.rows();
  const batches = rows.filter((row) => row.unit.startsWith('M'));
  return {
    rows,
    short: Object.fromEntries(batches.map((row) => {
      // Server and device fold the same; which columns a row has is theirs, what it asks and holds is not told.
      const { asks: _, held: __, ...find } = findRowOf({ ...row, parts: sorted(row['parts']) } as unknown as Unit, row.lines, farm);
      return [row.unit, { find, summary: summaryRow(row), rests: mayRest(row) }];
    })),
    sums: Object.fromEntries(batches.map((row) => [row.unit, summary(row)])),
    paths: Object.fromEntries(batches.flatMap((row) => Object.keys(row['parts'])
      .map((code) => [code, farm.history(code).map((line) => line.id)]))),
  };
}

const sorted = (parts: Data): Data => Object.fromEntries(Object.entries(parts).sort(([a], [b]) => (a < b ? -1 : 1)));

function readLine([text, receipt, pos, role]: Sent): Line | null {
  try {
    return lineOf(text, receipt, pos, role);
  } catch (error) {
    if (error instanceof NotARecord) return null;
    throw error;
  }
}

/** JSON as Python's json.dumps(value, sort_keys=True, separators=(",", ":")) writes it. */
export function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (typeof value === 'object' && value !== null) {
    const members = Object.entries(value).filter(([, v]) => v !== undefined);
    members.sort(([a], [b]) => byCodePoint(a, b));
    return `{${members.map(([k, v]) => `${ascii(k)}:${canonical(v)}`).join(',')}}`;
  }
  return typeof value === 'string' ? ascii(value) : JSON.stringify(value);
}

function ascii(text: string): string {
  return JSON.stringify(text).replace(/[^\0-\x7f]/g, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`);
}

function byCodePoint(a: string, b: string): number {
  const [x, y] = [[...a], [...b]];
  for (let i = 0; i < Math.min(x.length, y.length); i += 1) {
    const d = (x[i]?.codePointAt(0) ?? 0) - (y[i]?.codePointAt(0) ?? 0);
    if (d) return d;
  }
  return x.length - y.length;
}
