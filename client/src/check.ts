/**
 * Whether a record can be folded: the twin of server/bagtrail/catalogue/check.py, so that both sides
 * hold the same ones. A record that fails is kept all the same; the reason is shown where it waits.
 */
import { KINDS, MAX_MS, MAX_SAFE, fieldOf, kindOf, type Field } from './catalogue';
import { isCode, isRecordId, typeOf } from './ids';

type Data = Record<string, unknown>;

/** NUL, and halves of a surrogate pair. */
const UNFIT = /[\0\ud800-\udfff]/u;

/** Why a record cannot be folded ("kind", "version", "sub", "field:name"), or null. */
export function check(ty: string, tv: number, sub: string[], d: Data): string | null {
  const kind = KINDS.get(ty);
  if (!kind) return 'kind';
  if (tv !== kind.version) return 'version';
  const [least, most] = kind.subs;
  if (sub.length < least || sub.length > most || new Set(sub).size !== sub.length) return 'sub';
  if (sub.some((code) => !kind.sub.includes(typeOf(code)))) return 'sub';
  if (kind.rules.includes('load') && !sub[0]?.startsWith('H')) return 'sub';
  return checkFields(ty, d);
}

/** "field:name" for the first field of a kind that its data breaks, in written order; or null. */
export function checkFields(ty: string, d: Data): string | null {
  const kind = kindOf(ty);
  for (const field of kind.fields) {
    if (!Object.hasOwn(d, field.name)) {
      if (field.required) return `field:${field.name}`;
    } else if (!fits(field, d[field.name])) return `field:${field.name}`;
  }
  if (Object.keys(d).some((name) => !fieldOf(kind, name))) return 'field:?';
  if (kind.rules.includes('no_carbide') && names(d).some(isCarbide)) return 'carbide';
  return kind.rules.includes('born') ? checkBorn(d) : null;
}

/**
 * Whether an ingredient's name means calcium carbide, which is never put in substrate.
 * With water it gives acetylene (ICSC 0406, 2017); it is a spell-alike of calcium carbonate.
 */
export function isCarbide(name: string): boolean {
  const bare = name.toLowerCase().replaceAll('\u2082', '2').replace(/[^a-z0-9]/g, '');
  return /carb[iy]d|karbid|carbite/.test(bare) || bare === 'cac2';
}

function names(d: Data): string[] {
  const parts = ['parts', 'amounts', 'lines'].flatMap((key) => (d[key] as { name: string }[] | undefined) ?? []);
  const own = ['name', 'recipe_name'].filter((key) => Object.hasOwn(d, key)).map((key) => d[key] as string);
  return [...parts.map((part) => part.name), ...own];
}

/** A birth counts its bags or labels them all; at most one group tag takes what has no label. */
function checkBorn(d: Data): string | null {
  const to = (d['to'] as string[] | undefined) ?? [];
  const bags = to.filter((code) => code[0] === 'B').length;
  const groups = to.length - bags;
  if (!Object.hasOwn(d, 'n')) return groups || !bags ? 'field:n' : null;
  const n = d['n'] as number;
  return groups > 1 || bags > n || (groups === 1 && bags === n) ? 'field:to' : null;
}

/** Whether a JSON value is a whole number both languages hold exactly. */
export function isInt(value: unknown): value is number {
  return Number.isSafeInteger(value);
}

export function isObject(value: unknown): value is Data {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** Whether a value is one that a field takes. */
export function fits(field: Field, value: unknown): boolean {
  const least = field.min ?? 0;
  const most = field.max ?? MAX_SAFE;
  switch (field.type) {
    case 'int': return isInt(value) && value >= least && value <= most;
    case 'text': return isText(value, field.required ? 1 : 0, most);
    case 'code': return isCodeOf(field, value);
    case 'codes': return Array.isArray(value) && value.length >= least && value.length <= most
      // Labels: written codes only, for the name of an untagged part is nobody's to give away.
      && value.every((code) => isCodeOf(field, code) && isCode(code)) && new Set(value).size === value.length;
    case 'choice': return typeof value === 'string' && (field.choices ?? []).includes(value);
    case 'flag': return typeof value === 'boolean';
    case 'time': return isTime(value);
    case 'id': return typeof value === 'string' && isRecordId(value);
    case 'was': return isObject(value) && Object.keys(value).length === 2 && isTime(value['ms'])
      && (value['p'] === 'm' || value['p'] === 'd');
    case 'parts': return Array.isArray(value) && value.length >= least && value.length <= most
      && value.every(isPart);
    case 'of': return isOf(value, least, most);
    case 'fields': return isObject(value) && Object.keys(value).length <= most;
    case 'rows': return Array.isArray(value) && value.length >= least && value.length <= most
      && value.every((row) => isRow(field.rows ?? [], row));
    default: throw new Error(`the catalogue names no type ${field.type}`);
  }
}

/** Length counts code points, as Python does. */
function isText(value: unknown, least: number, most: number): boolean {
  if (typeof value !== 'string' || UNFIT.test(value)) return false;
  // A text of n UTF-16 units has n/2 to n code points: most need no counting.
  const length = value.length <= most && value.length >= 2 * least ? value.length : [...value].length;
  return length >= least && length <= most;
}

function isCodeOf(field: Field, value: unknown): boolean {
  return typeof value === 'string' && (field.letters ?? []).includes(typeOf(value));
}

function isTime(value: unknown): boolean {
  return isInt(value) && value >= 0 && value <= MAX_MS;
}

/** An ingredient: {"name", "share"}, share in 0.01 % of total dry mix. */
function isPart(value: unknown): boolean {
  return isObject(value) && Object.keys(value).length === 2 && isText(value['name'], 1, 60)
    && isInt(value['share']) && value['share'] > 0 && value['share'] <= 10_000;
}

/** An entry of a list of like objects: each field fits or, where it may, is left out. */
function isRow(fields: Field[], value: unknown): boolean {
  return isObject(value) && Object.keys(value).every((name) => fields.some((f) => f.name === name))
    && fields.every((f) => (Object.hasOwn(value, f.name) ? fits(f, value[f.name]) : !f.required));
}

/** What a harvest came from: [[batch, strain or ""], ...], no pair twice. */
function isOf(value: unknown, least: number, most: number): boolean {
  if (!Array.isArray(value) || value.length < least || value.length > most) return false;
  for (const pair of value) {
    if (!Array.isArray(pair) || pair.length !== 2 || !pair.every((x) => typeof x === 'string')) return false;
    const [batch, strain] = pair as [string, string];
    if (typeOf(batch) !== 'M' || (strain && typeOf(strain) !== 'strain')) return false;
  }
  return new Set(value.map((pair: string[]) => pair.join(' '))).size === value.length;
}
