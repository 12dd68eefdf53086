/** Where places stand, and which acts on places reach what stands there; the twin of server/bagtrail/places.py. */
import { kindOf } from './catalogue';
import type { Line } from './line';
import type { Index } from './lines';
import { byKey, keyOf } from './order';

/** Sorts after every key. */
const NEVER = '~';

/** An act on a place as it reaches another place inside: `via` are the joins between the two. */
export interface Act {
  key: string;
  line: Line;
  via: readonly Line[];
}

/** From `start` to `end` (keys) a place stood within `parent`, put there by `line`. */
export interface Stay {
  start: string;
  end: string;
  parent: string | null;
  line: Line;
}

/** The tree of places over time. Built from the index when asked, dropped when places change. */
export class Places {
  private readonly codes = new Set<string>();
  private readonly found = new Map<string, readonly Act[]>();
  private readonly own = new Map<string, readonly Act[]>();
  private tree: Map<string, Stay[]> | null = null;
  private refused: Line[] = [];

  constructor(private readonly index: Index) {}

  /** Takes note of a place; what was worked out is dropped. */
  know(code: string): void {
    this.codes.add(code);
    this.forget();
  }

  /** Drops what was worked out. */
  forget(): void {
    this.found.clear();
    this.own.clear();
    this.tree = null;
  }

  /** Where a place stood, in order. */
  stays(code: string): readonly Stay[] {
    return this.built().get(code) ?? [];
  }

  /** The place that a place stands in now, or null. */
  within(code: string): string | null {
    return this.stays(code).at(-1)?.parent ?? null;
  }

  /** The moves that would have closed a ring: they move nothing. */
  rings(): readonly Line[] {
    this.built();
    return this.refused;
  }

  /**
   * All places that a place ever stood in, however deep. Also those that a refused move named: when they
   * move, the ring may open and the move count.
   */
  around(code: string): Set<string> {
    const found = new Set<string>();
    const todo = [code];
    for (let one = todo.pop(); one !== undefined; one = todo.pop()) {
      const parents = this.stays(one).map((stay) => stay.parent);
      for (const line of this.rings()) if (line.s[0] === one) parents.push(parentOf(line));
      for (const parent of parents) {
        if (!parent || found.has(parent)) continue;
        found.add(parent);
        todo.push(parent);
      }
    }
    return found;
  }

  /** The acts that reach what stands at a place, in order. */
  acts(code: string): readonly Act[] {
    let acts = this.found.get(code);
    if (!acts) this.found.set(code, (acts = this.findActs(code, '', NEVER)));
    return acts;
  }

  /** The first act at a place later than a key, or null. */
  nextAct(code: string, after: string): Act | null {
    const acts = this.acts(code);
    return acts[firstAfter(acts, after)] ?? null;
  }

  /**
   * The acts that reach a place between two keys. Bounded by the keys, because two places may have stood
   * in each other, one after the other: at any one moment the places are a tree, so each chain ends.
   */
  private findActs(code: string, start: string, end: string): Act[] {
    const own = this.ownActs(code);
    const found: Act[] = [];
    for (let i = firstAfter(own, start); i < own.length && (own[i] as Act).key < end; i += 1) found.push(own[i] as Act);
    for (const stay of this.stays(code)) {
      const low = start > stay.start ? start : stay.start;
      const high = end < stay.end ? end : stay.end;
      if (stay.parent === null || low >= high) continue;
      for (const act of this.findActs(stay.parent, low, high)) {
        if (!act.line.x?.includes(code)) found.push({ key: act.key, line: act.line, via: [...act.via, stay.line] });
      }
    }
    return found.map((act): [string, Act] => [act.key, act]).sort(byKey).map(([, act]) => act);
  }

  private ownActs(code: string): readonly Act[] {
    let own = this.own.get(code);
    if (!own) {
      own = this.index.naming(code)
        .filter((line) => kindOf(line.k).reach && line.s.includes(code))
        .map((line) => ({ key: keyOf(line), line, via: [] }));
      this.own.set(code, own);
    }
    return own;
  }

  private built(): Map<string, Stay[]> {
    if (this.tree) return this.tree;
    const moves: [string, [string, Line]][] = [];
    for (const code of this.codes) {
      for (const line of this.index.naming(code)) {
        if (kindOf(line.k).rules.includes('place_tree') && line.s.length === 1 && line.s[0] === code) {
          moves.push([keyOf(line), [code, line]]);
        }
      }
    }
    moves.sort(byKey);
    const stays = (this.tree = new Map<string, Stay[]>());
    this.refused = [];
    const parent = new Map<string, string | null>();
    for (const [key, [code, line]] of moves) {
      const to = parentOf(line);
      if (line.k === 'place.named' && to === null && parent.has(code)) continue; // a new name alone moves nothing
      if (closesRing(code, to, parent)) {
        this.refused.push(line);
        continue;
      }
      parent.set(code, to);
      const own = stays.get(code) ?? [];
      stays.set(code, own);
      const last = own.at(-1);
      if (last) last.end = key;
      own.push({ start: key, end: NEVER, parent: to, line });
    }
    return stays;
  }
}

/** The place in a sorted list of the first act later than a key. */
function firstAfter(acts: readonly Act[], key: string): number {
  let low = 0;
  let high = acts.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((acts[middle] as Act).key <= key) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The place that a record puts a place into, or null. */
function parentOf(line: Line): string | null {
  return line.d[line.k === 'place.named' ? 'within' : 'to'] ?? null;
}

function closesRing(code: string, to: string | null, parent: ReadonlyMap<string, string | null>): boolean {
  for (let at = to; at !== null; at = parent.get(at) ?? null) if (at === code) return true;
  return false;
}
