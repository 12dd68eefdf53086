/**
 * The fold: from lines to state. Same lines, same state, in any order of arrival, repeated or not.
 *
 * The twin of server/bagtrail/fold.py. A unit is what is folded, stored and sent as one row: a batch with
 * its parts, "farm" (places, strains, spawn lots, loads, people, settings) or "?" (codes nobody has born
 * yet). `add` only takes a line in and marks what it touches; reading a unit folds what is marked.
 */
import { KINDS, kindOf } from './catalogue';
import { typeOf } from './ids';
import { isPartCode, Life, Node, type Ask } from './life';
import type { Data, Line } from './line';
import { codesOf, CORRECTIONS, Index, isBirth, isCorrection, labelsOf } from './lines';
import { inOrder, keyOf } from './order';
import { Places } from './places';
import { REFERENCES, reference } from './reference';
import { born, numberOf } from './rules';

export const FARM = 'farm';
export const LOOSE = '?';
export const ROW_VERSION = 1;
const ABOUT = new Set([...CORRECTIONS, 'question.answered']);

export interface HeldId {
  id: string;
  why: string;
}

/** A batch: parts, picks, refs, mixed; the farm: ref; "?": codes and lines (ids). */
export interface Unit extends Data {
  unit: string;
  held: HeldId[];
}

/** A unit with its lines: the form in which it is stored and sent. */
export interface Row extends Data {
  unit: string;
  v: number;
  lines: Line[];
  /** Without its lines and parts: the summary that is kept of it (scope.ts). */
  archived?: true;
}

type Touched = Set<string>;
type Marks = Set<string> | null;

/** State of a farm, or of as much of it as was loaded. */
export class Farm {
  readonly index = new Index();
  readonly places = new Places(this.index);
  private readonly life = new Life(this.index, this.places, (spawn) => this.strainOf(spawn));
  private readonly folded = new Map<string, Unit>();
  private readonly nodes = new Map<string, Map<string, Node>>();
  /** Units to fold again: wholly (null) or some parts of them. */
  private readonly dirty = new Map<string, Marks>([[FARM, null], [LOOSE, null]]);
  /** Codes of parts, as far as a line named them; of these, the ones that may have no home. */
  private readonly codes = new Set<string>();
  private loose = new Set<string>();
  private recheck = false;
  private readonly farmLines = new Set<string>();
  /** Codes whose home is a unit that was not loaded; whoever loads only some units says so. */
  private housed: ReadonlySet<string> = new Set();

  /** Takes a line in and returns the units it touches; a line already known touches none. */
  add(line: Line): Touched {
    const touched: Touched = new Set();
    // A receipt may take away the role that an unsent record was given.
    const again = this.index.lines.has(line.id);
    if (!this.index.add(line)) return touched;
    this.recheck ||= again;
    this.touch(line, touched);
    return touched;
  }

  /** Codes of parts without a home among the units loaded. */
  homeless(): string[] {
    const among = this.recheck ? this.codes : this.loose;
    return [...among].filter((code) => this.home(code) === null);
  }

  /** Takes note which of them have their home elsewhere. */
  setHoused(codes: ReadonlySet<string>): void {
    this.housed = codes;
    this.dirty.set(LOOSE, null);
  }

  /** Marks again what a line touches: for a unit whose stored state came in after it. Returns the units. */
  touchAgain(line: Line): Touched {
    const touched: Touched = new Set();
    this.touch(this.index.get(line.id), touched);
    return touched;
  }

  /** The units there are, "?" only while it holds something. */
  units(): string[] {
    const found = new Set([...this.folded.keys(), ...this.dirty.keys()]);
    if (found.has(LOOSE) && !this.unit(LOOSE)['lines'].length) found.delete(LOOSE);
    return [...found].sort();
  }

  /** The batch that a part's code belongs to, or null while its birth is unknown. */
  home(code: string): string | null {
    const seen = new Set<string>();
    for (let at = code; !seen.has(at);) {
      seen.add(at);
      if (typeOf(at) === 'M') return at;
      const birth = at.startsWith('g-') ? at.slice(2, 38) : this.index.holder(at);
      const line = birth === null ? undefined : this.index.lines.get(birth);
      if (!line || !isBirth(line) || this.index.held(line.id) !== null) return null;
      if (at.startsWith('g-') && !this.isUntagged(line.id, at.slice(38))) return null;
      at = line.s[0] as string;
    }
    return null;
  }

  /** Whether a birth has a part of that name: without a label, or one that lost a clash. */
  private isUntagged(birth: string, suffix: string): boolean {
    const line = this.index.effective(birth);
    const to = labelsOf(line);
    if (suffix) {
      const i = Number(suffix.slice(1));
      return suffix === `.${i}` && i < to.length && this.index.holder(to[i] as string) !== birth;
    }
    const bags = to.filter((code) => code[0] === 'B').length;
    return bags === to.length && (line.d['n'] ?? bags) > bags;
  }

  /** The strain of a spawn lot: its own, else its parent's; or null. */
  strainOf(spawn: string): string | null {
    const lots: Data = this.unit(FARM)['ref'].spawn;
    const seen = new Set<string>();
    for (let at = spawn; lots[at] && !seen.has(at); at = lots[at]['parent'] ?? '') {
      seen.add(at);
      if ('strain' in lots[at]) return lots[at]['strain'];
    }
    return null;
  }

  /** A unit, folded. */
  unit(name: string): Unit {
    const known = this.folded.get(name);
    if (known && !this.dirty.has(name)) return known;
    const marks = this.dirty.get(name) ?? null;
    this.dirty.delete(name);
    const unit = name === FARM ? this.foldFarm() : name === LOOSE ? this.foldLoose() : this.foldBatch(name, marks);
    this.folded.set(name, unit);
    return unit;
  }

  /** A part's state, or null while nobody has born it. */
  part(code: string): Data | null {
    const home = this.home(code);
    return home ? (this.unit(home)['parts'][code] ?? null) : null;
  }

  /** The acts of a part in order, with those of its parent before the split. */
  history(code: string): Line[] {
    const home = this.home(code);
    if (!home) return [];
    this.unit(home);
    if (!this.nodes.get(home)?.has(code)) this.foldAfresh(home);
    return [...(this.nodes.get(home)?.get(code)?.path ?? [])];
  }

  /** A unit with its lines. */
  row(name: string): Row {
    const unit = this.unit(name);
    // With all that corrects them: a harvest may be of two batches, its void names one.
    const ids = new Set([...this.lineIds(name)].flatMap((id) => this.index.kin(id)));
    const lines = inOrder([...ids].map((id) => this.index.get(id)));
    return { ...unit, v: ROW_VERSION, lines };
  }

  /** The rows of all units, in the order of their names. */
  rows(): Row[] {
    return this.units().map((name) => this.row(name));
  }

  /** Takes in a stored row: its lines, and its state unless it is of another version. */
  loadRow(row: Row): void {
    const touched: Touched = new Set();
    for (const line of row.lines.filter((one) => this.index.add(one))) this.touch(line, touched);
    if (row.v !== ROW_VERSION || row.unit === LOOSE) return;
    const { v: _, lines: __, ...unit } = row;
    this.folded.set(row.unit, unit as unknown as Unit);
    this.nodes.delete(row.unit);
    this.dirty.delete(row.unit);
  }

  /** Marks what a new line touches: its units, and those of all that it corrects. */
  private touch(line: Line, touched: Touched): void {
    if (line.k === 'question.answered' && !line.s.length) {
      for (const name of [...this.folded.keys()]) this.mark(name, null, touched);
    }
    const kin = this.index.kin(line.id);
    const kind = KINDS.get(line.k);
    const simple = kind !== undefined && (kind.reach !== '' || kind.rules.includes('noted'));
    for (const id of kin) {
      const one = this.index.get(id);
      this.touchCodes(one, touched, kin.length > 1 || !simple);
      if (!isBirth(one)) continue;
      this.recheck ||= kin.length > 1;
      for (const label of labelsOf(one)) {
        const claims = this.index.allClaimants(label);
        this.recheck ||= claims.length > 1;
        for (const claim of claims) {
          this.mark(this.home(this.index.get(claim).s[0] as string) ?? LOOSE, null, touched);
        }
      }
      this.settle(touched);
    }
  }

  private touchCodes(line: Line, touched: Touched, whole: boolean): void {
    const codes = codesOf(line);
    let farm = !codes.length;
    for (const code of codes) {
      const type = typeOf(code);
      if (type === 'M') this.mark(code, null, touched);
      else if (isPartCode(code)) {
        const home = this.home(code);
        this.codes.add(code);
        if (home === null) this.loose.add(code);
        this.mark(home ?? LOOSE, whole ? null : new Set([code]), touched);
      } else {
        farm = true;
        if (type === 'P') this.places.know(code);
        if (type === 'P' || type === 'S' || type === 'H') this.markUsers(code, touched);
      }
    }
    if (!farm) return;
    this.farmLines.add(line.id);
    this.mark(FARM, null, touched);
  }

  private markUsers(code: string, touched: Touched): void {
    for (const [name, unit] of this.folded) if (unit['refs']?.includes(code)) this.mark(name, null, touched);
  }

  private mark(name: string, parts: Marks, touched: Touched): void {
    touched.add(name);
    const have = this.dirty.has(name) ? this.dirty.get(name) ?? null : this.folded.has(name) ? new Set<string>() : null;
    const nodes = this.nodes.get(name);
    if (!parts || !have || !nodes || [...parts].some((code) => !nodes.has(code))) this.dirty.set(name, null);
    else this.dirty.set(name, new Set([...have, ...parts]));
  }

  private settle(touched: Touched): void {
    this.mark(LOOSE, null, touched);
    for (const code of [...this.loose]) {
      const home = this.home(code);
      if (home === null) continue;
      this.loose.delete(code);
      this.mark(home, null, touched);
    }
  }

  private foldFarm(): Unit {
    const live = [...this.farmLines]
      .filter((id) => REFERENCES.has(this.index.get(id).k) && this.index.counts(id))
      .map((id) => this.index.effective(id));
    const { ref, questions } = reference(inOrder(live), this.index.epochs);
    for (const [code, place] of Object.entries(ref['places'] as Data)) {
      const within = this.places.within(code);
      delete place.within;
      if (within) place.within = within;
    }
    for (const line of this.places.rings()) {
      questions.push({ id: `ring:${line.id}`, rule: 'ring', recs: [line.id], sub: [...line.s] });
    }
    return { unit: FARM, ref, questions: this.open(questions), held: this.heldOf(this.farmLines) };
  }

  private foldLoose(): Unit {
    const lines = [...this.lineIds(LOOSE)].sort();
    const codes = [...this.loose].filter((code) => !this.housed.has(code)).sort();
    const held = lines.flatMap((id) => {
      const why = this.index.held(id);
      // A correction that counts waits for no label.
      return this.index.voided(id) || (!why && isCorrection(this.index.get(id))) ? [] : [{ id, why: why ?? 'unknown' }];
    });
    return { unit: LOOSE, codes, lines, held };
  }

  private foldAfresh(name: string): void {
    this.nodes.delete(name);
    this.folded.set(name, this.foldBatch(name, null));
  }

  private foldBatch(name: string, marks: Marks): Unit {
    let nodes = this.nodes.get(name);
    const acts = this.index.naming(name).filter((line) => isBatchAct(line, name));
    if (!nodes || !marks) {
      this.nodes.set(name, (nodes = this.grow(name)));
      for (const node of nodes.values()) this.foldNode(node, acts);
    } else {
      for (const node of nodes.values()) { // parents come before children
        if (!marks.has(node.code) && !(node.parent && marks.has(node.parent.code))) continue;
        marks.add(node.code);
        this.foldNode(node, acts);
      }
    }
    return this.sumBatch(name, nodes);
  }

  private foldNode(node: Node, acts: readonly Line[]): void {
    this.life.fold(node, acts);
    const recs = this.count(node);
    node.asks = this.clash(node);
    const sub = [node.code];
    if (node.n < 0) node.asks.push({ id: `count_negative:${node.code}`, rule: 'count_negative', recs, sub });
    const birth = node.birth.id;
    if (this.index.voided(birth)) {
      node.asks.push({ id: `split_voided:${birth}:${node.code}`, rule: 'split_voided', recs: [birth], sub });
    }
  }

  /** A spawn lot with the lots it was made from, as their strain is its strain. */
  private lots(code: string): Set<string> {
    const lots: Data = this.unit(FARM)['ref'].spawn;
    const found = new Set<string>();
    for (let at = code; at && !found.has(at); at = lots[at]?.parent ?? '') found.add(at);
    return found;
  }

  private sumBatch(name: string, nodes: ReadonlyMap<string, Node>): Unit {
    const parts: Record<string, Data> = {};
    const questions: Ask[] = [];
    const refs = new Set<string>();
    for (const node of nodes.values()) {
      const part: Data = { ...node.part, n: node.n, id: node.birth.id };
      if (node.parent) part['up'] = node.parent.code;
      if (node.num) part['num'] = node.num;
      parts[node.code] = part;
      questions.push(...node.questions, ...node.asks);
      for (const member of node.members) this.lots(member).forEach((code) => refs.add(code));
      for (const place of node.stood) {
        refs.add(place);
        this.places.around(place).forEach((code) => refs.add(code));
      }
    }
    const ids = this.lineIds(name);
    for (const id of ids) {
      const line = this.index.get(id);
      // Not here yet, and when it comes it may name other codes than its correction.
      if (isCorrection(line) && !this.index.lines.has(line.d['target'])) refs.add(line.d['target']);
      if (!isBirth(line)) continue;
      // What another unit says of these labels changes this one.
      for (const code of labelsOf(line)) if (this.index.allClaimants(code).length > 1) refs.add(code);
    }
    return {
      unit: name, parts, picks: this.picks(name), refs: [...refs].sort(), ...this.mix(name),
      questions: this.open(questions), held: this.heldOf(ids),
    };
  }

  /** The tree of parts of a batch: births of the batch, then splits of each part. */
  private grow(name: string): Map<string, Node> {
    const nodes = new Map<string, Node>();
    const todo: [string, Node | null][] = [[name, null]];
    for (let i = 0; i < todo.length; i += 1) {
      const [code, parent] = todo[i] as [string, Node | null];
      const births = this.index.allNaming(code).filter((id) => {
        const line = this.index.get(id);
        return isBirth(line) && line.s[0] === code && this.index.held(id) === null;
      });
      for (const birth of inOrder(births.map((id) => this.index.effective(id)))) {
        for (const node of this.children(birth, parent)) {
          if (nodes.has(node.code)) continue;
          nodes.set(node.code, node);
          todo.push([node.code, node]);
        }
      }
    }
    return nodes;
  }

  private children(birth: Line, parent: Node | null): Node[] {
    const voided = this.index.voided(birth.id);
    const split = parent ? keyOf(birth) : '';
    const first: string = birth.d['first'] ?? '';
    let bags = 0;
    const found: Node[] = [];
    for (const { label, count, suffix } of born(birth)) {
      let num = '';
      if (label.startsWith('B')) {
        num = first ? numberOf(first, bags) : '';
        bags += 1;
      }
      const code = this.codeOf(birth.id, label, suffix);
      if (voided && !this.isNamedLive(code, birth.id)) continue;
      found.push(new Node(code, voided ? 0 : count, num, birth, parent, split));
    }
    return found;
  }

  private isNamedLive(code: string, birth: string): boolean {
    // A correction or an answer names what it is about; by itself it keeps nothing alive.
    return this.index.allNaming(code)
      .some((id) => id !== birth && !ABOUT.has(this.index.get(id).k) && this.index.counts(id, code));
  }

  /** Counts the bags of a part: born, corrected, less what live splits took. Returns the records. */
  private count(node: Node): string[] {
    const recs = [node.birth.id];
    node.n = node.born;
    for (const line of this.index.naming(node.code)) {
      if (line.k === 'group.corrected') node.n += line.d['by'];
      else if (isBirth(line) && line.s[0] === node.code) {
        node.n -= born(line).reduce((sum, { count }) => sum + count, 0);
      } else continue;
      recs.push(line.id);
    }
    return recs;
  }

  private clash(node: Node): Ask[] {
    const dot = node.code.lastIndexOf('.');
    if (!node.code.startsWith('g-') || dot < 0) return [];
    const label = labelsOf(node.birth)[Number(node.code.slice(dot + 1))] as string;
    const recs = this.index.claimants(label).map((line) => line.id);
    if (recs.length < 2) return [];
    return [{ id: `label_twice:${label}:${node.code}`, rule: 'label_twice', recs, sub: [label, node.code] }];
  }

  /** A batch's name, moisture and mix: fields of its batch records, the later wins. */
  private mix(name: string): Data {
    let data: Data = {};
    for (const line of this.index.naming(name)) {
      if (!kindOf(line.k).rules.includes('batch') || line.s.length !== 1 || line.s[0] !== name) continue;
      data = { ...data, ...line.d };
      data['was'] ??= { ms: line.t, p: 'm' };
    }
    return {
      ...some(data, ['name', 'moisture']),
      mixed: some(data, ['recipe', 'recipe_name', 'parts', 'wet_g', 'target', 'dry_g', 'lines', 'was']),
    };
  }

  /** What was picked of a batch, in order; grams follow `of`, never membership. */
  private picks(name: string): Data[] {
    return this.index.naming(name)
      .filter((line) => line.k === 'bag.harvested' && (line.d['of'] as [string, string][]).some(([m]) => m === name))
      .map((line) => ({ id: line.id, t: line.t, ...some(line.d, ['g', 'of', 'flush', 'grade']) }));
  }

  private lineIds(name: string): ReadonlySet<string> {
    if (name === FARM) return this.farmLines;
    if (name === LOOSE) {
      // A new claim on a label, or a correction of a birth, can take a home away again.
      this.loose = new Set(this.homeless());
      this.recheck = false;
      return new Set([...this.loose].flatMap((code) => (this.housed.has(code) ? [] : this.index.allNaming(code))));
    }
    const ids = new Set<string>();
    const codes = new Set([name]);
    for (const code of codes) { // grows: also by parts of voided splits, which have no node
      for (const id of this.index.allNaming(code)) {
        ids.add(id);
        const line = this.index.get(id);
        if (!isBirth(line) || line.s[0] !== code || this.index.held(id) !== null) continue;
        for (const { label, suffix } of born(this.index.effective(id))) codes.add(this.codeOf(id, label, suffix));
      }
    }
    return ids;
  }

  /** A part's code: its label, if its birth holds it. */
  private codeOf(birth: string, label: string, suffix: string): string {
    return label && this.index.holder(label) === birth ? label : `g-${birth}${suffix}`;
  }

  private heldOf(ids: Iterable<string>): HeldId[] {
    const held: HeldId[] = [];
    for (const id of [...ids].sort()) {
      const why = this.index.held(id);
      if (why !== null && !this.index.voided(id)) held.push({ id, why });
    }
    return held;
  }

  private open(questions: Ask[]): Ask[] {
    return questions.filter(({ id }) => this.index.answer(id) === null)
      .sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
  }
}

function isBatchAct(line: Line, name: string): boolean {
  const kind = kindOf(line.k);
  return line.s.includes(name) && (kind.reach !== '' || kind.rules.includes('load'));
}

function some(data: Data, names: string[]): Data {
  return Object.fromEntries(names.filter((name) => name in data).map((name) => [name, data[name]]));
}
