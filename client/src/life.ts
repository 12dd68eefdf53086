/**
 * The life of one part (a bag, or a group of alike bags): its acts in order, folded to its state.
 *
 * The twin of server/bagtrail/life.py. A part's acts are its own, those of its parent before it was split
 * off, those of its batch, loads and spawn lots (belonging is timeless), and those on the places where it
 * stood at that point of the order.
 */
import { kindOf, type Effect } from './catalogue';
import { typeOf } from './ids';
import type { Data, Line } from './line';
import { isBirth, type Index } from './lines';
import { byKey, keyOf } from './order';
import type { Places } from './places';
import { APART_MS, REPEAT_MS, reachStage, seen } from './rules';

type Keyed = [key: string, line: Line];

/** What two records could not settle; `recs` are record ids, `sub` codes. */
export interface Ask extends Data {
  id: string;
  rule: string;
  recs: string[];
  sub: string[];
}

/** A part's place in its batch's tree, and what was folded for it. */
export class Node {
  events: Keyed[] = [];
  members = new Set<string>();
  path: Line[] = [];
  part: Data = {};
  stood = new Set<string>();
  questions: Ask[] = [];
  asks: Ask[] = [];
  n = 0;

  /** `split` is the key of the split that made it, "" for a part of the filling. */
  constructor(
    readonly code: string,
    readonly born: number,
    readonly num: string,
    readonly birth: Line,
    readonly parent: Node | null,
    readonly split: string,
  ) {}

  /** The part of the filling that this one comes from. */
  root(): Node {
    let node: Node = this;
    while (node.parent) node = node.parent;
    return node;
  }
}

/** Folds nodes. `strainOf` gives the strain of a spawn lot, or null. */
export class Life {
  constructor(
    private readonly index: Index,
    private readonly places: Places,
    private readonly strainOf: (spawn: string) => string | null,
  ) {}

  /** Folds one node; its parent must have been folded before. */
  fold(node: Node, batchActs: readonly Line[]): void {
    node.questions = [];
    const events = this.events(node, batchActs);
    const known = new Set<string>();
    for (;;) {
      node.events = [...events].sort(byKey);
      this.walk(node);
      const fresh = [...membershipsOf(node)].filter((code) => !known.has(code));
      if (!fresh.length) break;
      fresh.forEach((code) => known.add(code));
      const more = this.actsOfMembers(node, fresh, events);
      if (!more.length) break;
      events.push(...more);
    }
    node.members = known;
  }

  private events(node: Node, batchActs: readonly Line[]): Keyed[] {
    const events: Keyed[] = [[keyOf(node.birth), node.birth]];
    const have = new Set([node.birth.id]);
    for (const [key, line] of node.parent?.events ?? []) {
      // A birth counts whatever the clocks of the two phones said, and whatever it excepts.
      const early = key < node.split && !line.x?.includes(node.code);
      if (!(early || isBirth(line)) || have.has(line.id)) continue;
      have.add(line.id);
      events.push([key, line]);
    }
    for (const line of batchActs) {
      const key = keyOf(line);
      if (have.has(line.id) || key < node.split || line.x?.includes(node.code)) continue;
      have.add(line.id);
      if (this.reaches(node, line, [node.root().birth])) events.push([key, line]);
    }
    for (const line of this.index.naming(node.code)) {
      if (have.has(line.id) || !actsOnParts(line)) continue;
      have.add(line.id);
      events.push([keyOf(line), line]);
    }
    return events;
  }

  private actsOfMembers(node: Node, codes: string[], events: readonly Keyed[]): Keyed[] {
    const have = new Set(events.map(([, line]) => line.id));
    const more: Keyed[] = [];
    for (const code of codes.sort()) {
      const shared = node.parent?.members.has(code) ?? false;
      const join = joinOf(node, code);
      for (const line of this.index.naming(code)) {
        const key = keyOf(line);
        // A load's result is said of the load, also when its bags were put in by another.
        if (have.has(line.id) || !(kindOf(line.k).reach || line.k === 'load.ran') || line.x?.includes(node.code)) continue;
        if (shared && key < node.split) continue;
        have.add(line.id);
        if (this.reaches(node, line, join ? [join] : [])) more.push([key, line]);
      }
    }
    return more;
  }

  /** Whether an act on something larger reaches a part: "seen" only what was known. */
  private reaches(node: Node, line: Line, joins: readonly Line[]): boolean {
    if (kindOf(line.k).reach !== 'seen') return true;
    if (joins.every((join) => seen(line, join, this.index.epochs))) return true;
    ask(node, `reach:${line.id}:${node.code}`, 'reach', [line.id], [node.code]);
    return false;
  }

  private walk(node: Node): void {
    node.part = { born: node.born };
    node.path = [];
    node.stood = new Set();
    node.questions = node.questions.filter((q) => q.rule === 'reach');
    const run = new Run(node, this.index, this.strainOf);
    const done = new Set<string>();
    let i = 0;
    let after = '';
    for (;;) {
      const place: string | undefined = node.part['place'];
      const act = place ? this.places.nextAct(place, after) : null;
      const event = node.events[i];
      if (event && (!act || event[0] <= act.key)) {
        const [key, line] = event;
        after = key;
        i += 1;
        if (done.has(line.id)) continue;
        done.add(line.id);
        run.apply(line);
      } else if (act) {
        after = act.key;
        if (done.has(act.line.id) || isExcepted(node, act.line, act.key)) continue;
        if (!this.reaches(node, act.line, run.join ? [run.join, ...act.via] : act.via)) continue;
        done.add(act.line.id);
        run.apply(act.line, true);
      } else break;
    }
    if (!node.part['inferred'].length) delete node.part['inferred'];
  }
}

/** One walk over a part's acts. */
class Run {
  join: Line | null = null;
  private readonly part: Data;
  private ended: Line | null = null;
  private move: Line | null = null;
  private pick: Line | null = null;
  private first: Line | null = null;
  private byPlace = false;

  constructor(
    private readonly node: Node,
    private readonly index: Index,
    private readonly strainOf: (spawn: string) => string | null,
  ) {
    this.part = node.part;
    this.part['inferred'] = [];
    this.part['next'] = 1;
  }

  /** Applies one act in its order. */
  apply(line: Line, byPlace = false): void {
    this.byPlace = byPlace;
    const kind = kindOf(line.k);
    const { part, node } = this;
    const at = when(line);
    if (this.ended && kind.alive) {
      if (line.s.includes(node.code)) {
        this.ask('after_end', [this.ended, line], { known: seen(line, this.ended, this.index.epochs) });
        node.path.push(line);
      }
      return;
    }
    node.path.push(line);
    part['last'] = Math.max(at, part['last'] ?? 0);
    for (const effect of kind.effects) this.effect(effect, line, at);
    for (const rule of kind.rules) this.rule(rule, line, at);
  }

  private effect(effect: Effect, line: Line, at: number): void {
    const { part } = this;
    const { d } = line;
    const name = effect[1] as string;
    switch (effect[0]) {
      case 'put': part[name] = picked(d, effect[2] as string[], at); return;
      case 'append': (part[name] ??= []).push(picked(d, effect[2] as string[], at)); return;
      case 'add': part[name] = (part[name] ?? 0) + (effect[2] as number); return;
      case 'set':
        if (Object.hasOwn(d, effect[2] as string)) part[name] = d[effect[2] as string];
        return;
    }
    if (this.ended) return;
    switch (effect[0]) {
      case 'stage': reachStage(part, name, at); return;
      case 'stand':
        if (!Object.hasOwn(d, name)) return;
        part['place'] = d[name];
        part['placed'] = at;
        this.node.stood.add(d[name]);
        this.join = line;
        return;
      case 'end': this.end(line, d[name], at); return;
      case 'end_if': if (d[name] === effect[2]) this.end(line, effect[3] as string, at);
    }
  }

  private end(line: Line, cause: string, at: number): void {
    this.part['end'] = cause;
    this.part['ended'] = at;
    delete this.part['place'];
    delete this.part['placed'];
    this.ended = line;
  }

  private rule(rule: string, line: Line, at: number): void {
    switch (rule) {
      case 'born': this.born(line, at); return;
      case 'load': this.load(line, at); return;
      case 'inoculated': this.inoculated(line, at); return;
      case 'new_flush': this.part['next'] = (this.part['flush'] ?? 0) + 1; return;
      case 'harvested': this.harvested(line, at); return;
      case 'moved': this.moved(line);
    }
  }

  private born(line: Line, at: number): void {
    // Also when its end was stated for a time before the filling: every part has a stage.
    if (line.k === 'stock.opened') reachStage(this.part, line.d['stage'], at, true);
    else if (line.k === 'bag.filled') reachStage(this.part, 'filled', at);
  }

  private load(line: Line, at: number): void {
    const { part } = this;
    if (!('result' in line.d)) {
      // What failed stays failed until another run of it is told to have passed.
      if (part['load'] !== line.s[0] && part['gate'] !== 'failed') part['gate'] = 'open';
      part['load'] = line.s[0];
      return;
    }
    part['load'] = line.s[0];
    part['gate'] = line.d['result'];
    if (line.d['result'] !== 'failed' && !this.ended) reachStage(this.part, 'sterilised', at);
  }

  private inoculated(line: Line, at: number): void {
    const { part } = this;
    const { d } = line;
    const strain: string | null = d['strain'] || ('spawn' in d ? this.strainOf(d['spawn']) : null);
    const before: string | undefined = part['strain'];
    if (strain && before !== undefined && before !== strain && this.first) {
      this.ask('strain_twice', [this.first, line]);
    }
    if (strain) part['strain'] = strain;
    if ('spawn' in d) part['spawn'] = d['spawn'];
    part['inoculated'] = at;
    this.first = line;
    if (part['gate'] !== 'failed') return;
    if (d['override']) part['gate'] = 'overridden';
    else this.ask('gate', [line]);
  }

  private harvested(line: Line, at: number): void {
    const { part } = this;
    const { d } = line;
    part['flush'] = Math.max(part['flush'] ?? 0, d['flush']);
    part['next'] = part['flush'];
    part['picked'] = at;
    if (d['done']) {
      part['next'] += 1;
      reachStage(part, 'resting', at);
    }
    if (line.s.length === 1 && line.s[0] === this.node.code) part['g'] = (part['g'] ?? 0) + d['g'];
    const last = this.pick;
    if (last && last.st === line.st && sameList(last.s, line.s)) {
      const gap = line.e - last.e;
      if (gap >= 0 && gap < REPEAT_MS) this.ask('harvest_repeat', [last, line]);
    }
    this.pick = line;
  }

  private moved(line: Line): void {
    const last = this.move;
    this.move = line;
    // What was carried off with all that stood there agrees with the move that brought it there.
    if (!last || this.byPlace || last.d['to'] === line.d['to'] || Math.abs(line.e - last.e) <= APART_MS) return;
    const { epochs } = this.index;
    if (!seen(line, last, epochs) && !seen(last, line, epochs)) this.ask('two_places', [last, line]);
  }

  private ask(rule: string, lines: Line[], more: Data = {}): void {
    const ids = lines.map((line) => line.id);
    ask(this.node, [rule, ...ids, this.node.code].join(':'), rule, ids, [this.node.code], more);
  }
}

/** When an act happened, for people: what was said, else what the order goes by. */
export function when(line: Line): number {
  const was: unknown = line.d['was'];
  return typeof was === 'object' && was !== null ? (was as { ms: number }).ms : line.t;
}

/** Whether a code names a part. */
export function isPartCode(code: string): boolean {
  const type = typeOf(code);
  return type === 'B' || type === 'G';
}

function membershipsOf(node: Node): Set<string> {
  const codes = new Set<string>();
  for (const line of node.path) {
    if (kindOf(line.k).rules.includes('load')) codes.add(line.s[0] as string);
    if ('spawn' in line.d && actsOnParts(line)) codes.add(line.d['spawn']);
  }
  return codes;
}

function joinOf(node: Node, code: string): Line | null {
  return node.path.find((line) => (kindOf(line.k).rules.includes('load') && line.s[0] === code) || line.d['spawn'] === code) ?? null;
}

function actsOnParts(line: Line): boolean {
  const kind = kindOf(line.k);
  return kind.reach !== '' || kind.rules.includes('load') || kind.rules.includes('noted');
}

function isExcepted(node: Node, line: Line, key: string): boolean {
  if (!line.x?.length) return false;
  for (let here: Node | null = node; here; here = key < here.split ? here.parent : null) {
    if (line.x.includes(here.code)) return true;
  }
  return false;
}

function picked(d: Data, names: string[], at: number): Data {
  const out: Data = {};
  for (const name of names) if (Object.hasOwn(d, name)) out[name] = d[name];
  out['t'] = at;
  return out;
}

function ask(node: Node, id: string, rule: string, recs: string[], sub: string[], more: Data = {}): void {
  if (node.questions.every((q) => q.id !== id)) node.questions.push({ id, rule, recs, sub, ...more });
}

function sameList(a: string[], b: string[]): boolean {
  return a.length === b.length && a.every((code, i) => code === b[i]);
}
