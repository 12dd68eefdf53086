/**
 * What the fold looks records up by: code, target, label claims; knows what counts and what not.
 *
 * The twin of server/bagtrail/index.py. Everything here is independent of the order of arrival: lists are
 * sorted by the order key when they are read.
 */
import { KINDS, fieldOf, kindOf } from './catalogue';
import { checkFields } from './check';
import type { Line } from './line';
import { inOrder } from './order';
import { mayCorrect } from './rules';

export const CORRECTIONS = new Set(['record.voided', 'record.amended', 'record.admitted']);
const NONE: readonly string[] = [];

/** All lines held, by id and by everything they name. */
export class Index {
  /** id -> line as written (never changed). */
  readonly lines = new Map<string, Line>();
  /** Epochs of this log, oldest first; whoever holds the log sets them. */
  epochs: string[] = [];
  private readonly byCode = new Map<string, string[]>();
  private readonly byTarget = new Map<string, string[]>();
  private readonly claims = new Map<string, string[]>();
  private readonly answers = new Map<string, string[]>();
  private readonly amended = new Map<string, Line>();
  private readonly voids = new Map<string, true | ReadonlySet<string>>();

  /**
   * Takes a line in; false when it changes nothing. A line that has a place in the log replaces an unsent
   * one of the same id.
   */
  add(line: Line): boolean {
    const old = this.lines.get(line.id);
    if (old && (old.p || !line.p)) return false;
    this.lines.set(line.id, line);
    this.forget(line.id);
    if (old) return true;
    for (const code of codesOf(line)) push(this.byCode, code, line.id);
    if (isBirth(line)) for (const code of labelsOf(line)) push(this.claims, code, line.id);
    if (isCorrection(line)) push(this.byTarget, line.d['target'], line.id);
    if (line.k === 'question.answered' && line.w === undefined) push(this.answers, line.d['question'], line.id);
    return true;
  }

  /** Drops what was worked out about a record and about all that its corrections reach. */
  forget(id: string): void {
    for (const one of this.kin(id)) {
      this.amended.delete(one);
      this.voids.delete(one);
    }
  }

  /** A record with all that it corrects and that corrects it, however far, if here. */
  kin(id: string): string[] {
    const one = this.lines.get(id);
    if (one && !this.byTarget.has(id) && !isCorrection(one)) return [id]; // nearly all are alone
    const found = new Set<string>();
    const todo = [id];
    for (let at = todo.pop(); at !== undefined; at = todo.pop()) {
      const line = this.lines.get(at);
      if (!line || found.has(at)) continue;
      found.add(at);
      if (isCorrection(line)) todo.push(line.d['target']);
      // A correction whose target changed may gain or lose its authority.
      todo.push(...(this.byTarget.get(at) ?? NONE));
    }
    return [...found];
  }

  /** The live lines that name a code, in order, each with its amendments. */
  naming(code: string): Line[] {
    const live = (this.byCode.get(code) ?? NONE).filter((id) => this.counts(id, code));
    return inOrder(live.map((id) => this.effective(id)));
  }

  /** The ids of all lines that name a code, live or not. */
  allNaming(code: string): readonly string[] {
    return this.byCode.get(code) ?? NONE;
  }

  /** Whether a record counts (for a code): it is not held and not voided. */
  counts(id: string, code?: string): boolean {
    return this.held(id) === null && !this.voided(id, code);
  }

  /** Why a record is held, or null: "kind", "field:g", "device", "authority", ... */
  held(id: string): string | null {
    const line = this.get(id);
    if (line.w !== undefined) return line.w;
    let target: Line | undefined;
    if (line.k === 'record.voided' || line.k === 'record.amended') {
      // Asked first: whatever is looked up from here on is later, so it comes to an end.
      target = this.lines.get(line.d['target']);
      if (!target || !isLater(line, target)) return 'target';
    }
    if (line.a === '-' && !this.admitted(id)) return line.f?.includes('foreign') ? 'foreign' : 'device';
    if (line.k === 'record.admitted' && line.a !== 'o' && line.a !== 'm') return 'authority';
    if (target) {
      if (!mayCorrect(line, target) && !this.admitted(id)) return 'authority';
      if (line.k === 'record.amended' && this.amendFault(line, target)) return 'fields';
    }
    return null;
  }

  /** Whether a live void reaches a record, or one of its subjects. */
  voided(id: string, code?: string): boolean {
    let gone = this.voids.get(id);
    if (gone === undefined) {
      // The latest first: a void depends on later ones only, and a long chain must not recurse.
      const kin = this.kin(id).filter((one) => !this.voids.has(one)).map((one) => this.get(one));
      for (const line of kin.sort((a, b) => (isLater(a, b) ? -1 : 1))) this.voids.set(line.id, this.findVoid(line.id));
      gone = this.voids.get(id) as true | ReadonlySet<string>;
    }
    return gone === true || (code !== undefined && gone.has(code));
  }

  /** A line with its live amendments in it: the later in order wins, field by field. */
  effective(id: string): Line {
    let line = this.amended.get(id);
    if (!line) this.amended.set(id, (line = this.amend(this.get(id))));
    return line;
  }

  /** The id of the birth that holds a label: the earliest live one, else the earliest; or null. */
  holder(code: string): string | null {
    const claims = (this.claims.get(code) ?? NONE).filter((id) => this.held(id) === null);
    if (claims.length < 2) return claims[0] ?? null;
    const live = claims.filter((id) => !this.voided(id));
    return inOrder((live.length ? live : claims).map((id) => this.get(id)))[0]?.id ?? null;
  }

  /** The live births that claim a label, in order. */
  claimants(code: string): Line[] {
    const live = (this.claims.get(code) ?? NONE).filter((id) => this.counts(id));
    return inOrder(live.map((id) => this.get(id)));
  }

  /** The ids of all births that name a label, live or not. */
  allClaimants(code: string): readonly string[] {
    return this.claims.get(code) ?? NONE;
  }

  /** The ids of the corrections of a record, live or not. */
  correctionsOf(id: string): readonly string[] {
    return this.byTarget.get(id) ?? NONE;
  }

  /** The latest live answer to a question, or null. */
  answer(question: string): Line | null {
    const live = (this.answers.get(question) ?? NONE).filter((id) => this.counts(id));
    return inOrder(live.map((id) => this.get(id))).at(-1) ?? null;
  }

  get(id: string): Line {
    const line = this.lines.get(id);
    if (!line) throw new Error(`no line ${id}`);
    return line;
  }

  private admitted(id: string): boolean {
    const target = this.get(id);
    return (this.byTarget.get(id) ?? NONE).some((i) => {
      const line = this.get(i);
      return line.k === 'record.admitted' && (line.a === 'o' || line.a === 'm') && isLater(line, target)
        && !this.voided(i);
    });
  }

  private findVoid(id: string): true | ReadonlySet<string> {
    const codes = new Set<string>();
    const target = this.get(id);
    for (const i of this.byTarget.get(id) ?? NONE) {
      const line = this.get(i);
      if (line.k !== 'record.voided' || !this.counts(i)) continue;
      if (!line.s.length || target.s.every((code) => line.s.includes(code))) return true;
      line.s.forEach((code) => codes.add(code));
    }
    return codes.size > 0 && target.s.every((code) => codes.has(code)) ? true : codes;
  }

  private amend(line: Line): Line {
    const amendments = (this.byTarget.get(line.id) ?? NONE)
      .filter((i) => this.get(i).k === 'record.amended' && this.counts(i))
      .map((i) => this.get(i));
    if (!amendments.length) return line;
    const out: Line = { ...line, d: { ...line.d }, am: true };
    for (const { d } of inOrder(amendments)) {
      out.d = { ...out.d, ...d['fields'] };
      const was = d['was'];
      if (was === undefined) continue;
      const kind = kindOf(line.k);
      if (kind.timed) {
        out.t = Math.min(was.ms, out.e);
        out.o = was.p;
      } else if (fieldOf(kind, 'was')) out.d['was'] = was;
    }
    return out;
  }

  /** Whether the amended fields would break the target's kind. */
  private amendFault(amend: Line, target: Line): boolean {
    const fields: Record<string, unknown> = amend.d['fields'] ?? {};
    if (target.w !== undefined || CORRECTIONS.has(target.k) || Object.hasOwn(fields, foundBy(target))) return true;
    return checkFields(target.k, { ...target.d, ...fields }) !== null;
  }
}

/** Whether a line makes parts. */
export function isBirth(line: Line): boolean {
  return line.w === undefined && (KINDS.get(line.k)?.rules.includes('born') ?? false);
}

/** Whether a line voids, amends or admits another. */
export function isCorrection(line: Line): boolean {
  return line.w === undefined && CORRECTIONS.has(line.k);
}

/** All codes a line must be found by: its subjects, and the batches a harvest came from. */
export function codesOf(line: Line): string[] {
  if (line.k !== 'bag.harvested' || line.w !== undefined) return [...new Set(line.s)];
  return [...new Set([...line.s, ...(line.d['of'] as [string, string][]).map((pair) => pair[0])])];
}

/** The labels a birth gives. */
export function labelsOf(birth: Line): string[] {
  return birth.d['to'] ?? [];
}

/** The field a record is found by: it cannot be amended, only voided and written again. */
function foundBy(line: Line): string {
  return isBirth(line) ? 'to' : 'of';
}

/** Whether `a` was written after `b` by the clock; it makes corrections of corrections end. */
function isLater(a: Line, b: Line): boolean {
  if (a.e !== b.e) return a.e > b.e;
  if (a.st !== b.st) return a.st > b.st;
  if (a.sq !== b.sq) return a.sq > b.sq;
  return a.id > b.id;
}


function push(map: Map<string, string[]>, key: string, id: string): void {
  const list = map.get(key);
  if (list) list.push(id);
  else map.set(key, [id]);
}
