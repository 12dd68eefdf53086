/** From a record's text to the compact line that the fold reads; the twin of server/bagtrail/line.py. */
import { KINDS, MAX_MS } from './catalogue';
import { check, isInt, isObject } from './check';
import { isRecordId, typeOf } from './ids';
import { statedTime } from './order';
import { upcast } from './upcast';

export type Data = Record<string, any>;

/** The compact record. Times are ms UTC; absent members are left out. */
export interface Line {
  id: string;
  k: string;
  tv: number;
  /** What it sorts by: stated time or `e`. */
  t: number;
  /** Effective time: the receipt's, `at` while unsent. */
  e: number;
  st: string;
  sq: number;
  o?: 'm' | 'd';
  b: string;
  by: string;
  dev: string;
  /** The writer's role at ingestion: o, m, w, or - for none. */
  a: string;
  ep: string;
  /** Place in the log, 0 while unsent. */
  p: number;
  f?: string[];
  g?: string;
  r?: string;
  s: string[];
  x?: string[];
  d: Data;
  /** Why it cannot be folded. */
  w?: string;
  /** It has live amendments in it (never stored). */
  am?: true;
}

/** What the server said of a record: see the design's receipts. */
export interface Receipt {
  id: string;
  h: string;
  e: string;
  p: number;
  t: number;
  q: string;
  f: string;
  a: string;
  dev: string;
}

export const MAX_TEXT_BYTES = 16 * 1024;
const MAX_DEPTH = 32;

/** The text is no record at all: it cannot even be attributed to a stream. */
export class NotARecord extends Error {}

/** Reads a record's text; a number that is not whole and exact becomes null, as in Python. */
export function parse(text: string): Data {
  let record: unknown;
  try {
    record = plain(JSON.parse(text), 0);
  } catch {
    throw new NotARecord('not a JSON object');
  }
  if (!isObject(record)) throw new NotARecord('not a JSON object');
  for (const name of ['id', 'dev', 'st', 'ty']) {
    if (typeof record[name] !== 'string') throw new NotARecord(`${name} is missing`);
  }
  const { id, st, dev } = record as Record<string, string>;
  if (!isRecordId(id as string) || !/^[0-9a-f]{16}$/.test(st as string)) throw new NotARecord('id or st is malformed');
  if (!/^d[0-9a-f]{16}$/.test(dev as string)) throw new NotARecord('dev is malformed');
  for (const [name, least] of [['gen', 1], ['sq', 1], ['at', 0]] as const) {
    const value = record[name];
    if (!isInt(value) || value < least || value > MAX_MS) throw new NotARecord(`${name} is malformed`);
  }
  if ((record['sq'] as number) > 9_999_999_999) throw new NotARecord('sq is malformed');
  return record;
}

/**
 * The line of a record. `receipt` is null while the record is unsent and says the place it was given first,
 * in its own epoch (what "had seen" compares with a base); `pos` is its place where there is no receipt; `role` (o, m, w, -) is the writer's where there is no receipt yet.
 */
export function lineOf(text: string, receipt: Receipt | null = null, pos = 0, role = '-'): Line {
  return lineFrom(parse(text), receipt, pos, role);
}

/** The line of a record already parsed; see `lineOf`. */
export function lineFrom(record: Data, receipt: Receipt | null, pos: number, role: string): Line {
  const flags = receipt ? receipt.f.split(' ').filter(Boolean) : [];
  const eff = receipt ? receipt.t : (record['at'] as number);
  const line: Line = {
    id: record['id'], k: record['ty'], tv: isInt(record['tv']) ? record['tv'] : 0,
    t: eff, e: eff, st: record['st'], sq: record['sq'],
    b: asText(record['base']), by: asText(record['by']), dev: record['dev'],
    a: receipt ? receipt.a : role, ep: receipt ? receipt.e : '', p: receipt ? receipt.p : pos, s: [], d: {},
  };
  const kind = KINDS.get(line.k);
  const on: unknown = record['on'];
  if (isObject(on) && (!kind || kind.timed)) {
    const { ms, p } = on;
    if (isInt(ms) && (p === 'm' || p === 'd')) {
      line.t = statedTime(ms, eff);
      line.o = p;
      if (ms > eff) flags.push('on_future');
    }
  }
  if (typeof record['act'] === 'string') line.g = record['act'];
  if (typeof record['rnd'] === 'string') line.r = record['rnd'];
  line.s = codes(record['sub']);
  if (truthy(record['except'])) line.x = codes(record['except']);
  if (isObject(record['d'])) line.d = record['d'];
  if (kind && line.tv >= 1 && line.tv < kind.version) {
    line.d = upcast(kind, line.tv, line.d);
    line.tv = kind.version;
  }
  if (flags.length) line.f = flags;
  const why = whole(record) ?? check(line.k, line.tv, line.s, line.d);
  if (why) line.w = why;
  return line;
}

/** Why the envelope's lists or data are not what they must be, or null. */
function whole(record: Data): string | null {
  if (record['v'] !== 1) return 'version';
  for (const name of ['sub', 'except']) {
    if (!Object.hasOwn(record, name)) continue;
    const value: unknown = record[name];
    if (!Array.isArray(value) || value.length > 1_000) return 'sub';
    if (!value.every((code) => typeof code === 'string' && typeOf(code))) return 'sub';
  }
  return isObject(record['d']) ? null : 'field:d';
}

function codes(value: unknown): string[] {
  return Array.isArray(value) ? value.filter((c): c is string => typeof c === 'string' && typeOf(c) !== '') : [];
}

function asText(value: unknown): string {
  return typeof value === 'string' ? value : '';
}

/** Python's truth of a JSON value: empty lists and objects are false too. */
function truthy(value: unknown): boolean {
  if (Array.isArray(value)) return value.length > 0;
  return isObject(value) ? Object.keys(value).length > 0 : Boolean(value);
}

function plain(value: unknown, depth: number): unknown {
  if (depth > MAX_DEPTH) throw new RangeError('nested too deep');
  if (typeof value === 'number') return Number.isSafeInteger(value) ? value + 0 : null;
  if (Array.isArray(value)) return value.map((part) => plain(part, depth + 1));
  if (isObject(value)) {
    // fromEntries defines properties, so a member named __proto__ stays a member.
    return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, plain(v, depth + 1)]));
  }
  return value;
}
