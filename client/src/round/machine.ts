/**
 * The round: one purpose, then scan after scan. Each step takes the round and what happened, and gives the round
 * after it, what to tell, and the acts to write. Pure: no clock, no storage, no screen.
 *
 * A misfit never stops the round, and a reason is put to a person once: what was said holds for all later ones.
 */
import type { Draft } from '../app-types';
import { numberOf } from '../rules';
import { purposeOf, type Purpose } from './purposes';
import type { Fact, Misfit, Round } from './state';
import { notKnown, unrecorded } from './unrecorded';

/** taken: stored; before: was taken in this round; misfit: not taken; set: target, choice or figure; ask: something is missing. */
export type Told = { outcome: 'taken' | 'before' | 'misfit' | 'set' | 'ask'; id: string; params?: Record<string, string | number> };

/** One act to be written, with the thing it is about. */
export interface Act {
  fact: Fact;
  drafts: Draft[];
  n: number;
  figure?: number;
}

export interface Step {
  round: Round;
  told: Told;
  acts: Act[];
  /** undo: take the last line back; end: the round is over; purpose: begin another one. */
  then?: 'undo' | 'end' | { purpose: string };
}

/** Reasons that a person may overrule: the sentence offers it. */
export const ANSWERABLE = ['failed', 'unrecorded', 'spawned', 'whole', 'ended'];

/** Codes of one record: a text of 16 KiB holds them with room to spare. */
const MOST_CODES = 300;

const told = (outcome: Told['outcome'], id: string, params: Told['params'] = {}): Told => ({ outcome, id: `round.told.${id}`, params });

export class Machine {
  constructor(private readonly now: () => number) {}

  /** A scanned code. `taken`: codes of the round's lines that still hold. */
  scan(round: Round, fact: Fact, taken: ReadonlySet<string>): Step {
    const purpose = purposeOf(round.purpose);
    const letter = fact.code.startsWith('g-') ? 'G' : fact.code.charAt(0);
    if (round.whole === '') return this.wholeOf(round, fact, letter);
    if (round.whole !== null) return this.except(round, fact);
    if (round.purpose === 'roll') return this.roll(round, fact, letter);
    if (letter === purpose.target?.letter || (round.purpose === 'adopt' && 'GM'.includes(letter))) return this.target(round, fact);
    if (round.purpose === 'inoculate' && letter === 'M' && !round.digits) return this.source(round, fact);
    return this.take(round, fact, letter, purpose, taken);
  }

  /** A command tag or its button; `commands.ts` names them. */
  command(round: Round, word: string): Step {
    const [kind = '', value = ''] = word.split('.');
    switch (kind) {
      case 'digit': return this.digit(round, value);
      case 'flush': return { round: { ...round, flush: Number(value) }, told: told('set', 'flush', { flush: Number(value) }), acts: [] };
      case 'yes': case 'no': return this.answer(round, kind === 'yes');
      case 'undo': return this.undo(round);
      case 'done': return this.done(round);
      case 'all_but': return this.all(round);
      case 'purpose': return { round, told: told('set', 'purpose'), acts: [], then: { purpose: value } };
      default: return this.choose(round, kind, value);
    }
  }

  choose(round: Round, field: string, value: string): Step {
    const purpose = purposeOf(round.purpose);
    if (!purpose.choices.includes(field)) return { round, told: told('ask', 'choice_elsewhere'), acts: [] };
    const next = { ...round, d: { ...round.d, [field]: value } };
    return this.settle(next, told('set', 'choice'));
  }

  /** A weight or count that came whole: from a keypad or a scale. */
  figure(round: Round, value: number): Step {
    const purpose = purposeOf(round.purpose);
    const [fact] = round.waiting;
    if (!purpose.figure || !fact) return { round, told: told('ask', 'scan_first'), acts: [] };
    return this.write({ ...round, waiting: [], digits: '' }, [fact], purpose, value);
  }

  /** What a person says to the reason asked about last; it holds for the rest of the round. */
  answer(round: Round, take: boolean): Step {
    const open = this.open(round);
    if (!open) return { round, told: told('ask', 'nothing_asked'), acts: [] };
    const said = { ...round.said, [open.reason]: take ? 'take' as const : 'leave' as const };
    const mine = round.misfits.filter((m) => m.reason === open.reason && m.fact);
    if (!take) return { round: { ...round, said }, told: told('set', 'left', { n: mine.length }), acts: [] };
    const next = { ...round, said, misfits: round.misfits.filter((m) => !mine.includes(m)) };
    const facts = mine.map((m) => m.fact as Fact);
    const purpose = purposeOf(round.purpose);
    if (purpose.figure || this.missing(next, purpose)) return this.settle({ ...next, waiting: [...next.waiting, ...facts] }, told('set', 'choice'));
    return this.write(next, facts, purpose);
  }

  /** The misfit whose reason waits for an answer, if any: the latest of a reason nobody has answered yet. */
  open(round: Round): Misfit | null {
    return round.misfits.findLast((m) => m.fact && !(m.reason in round.said)) ?? null;
  }

  /** What is still missing before scans are taken: the target's letter, or a field. */
  missing(round: Round, purpose: Purpose = purposeOf(round.purpose)): string | null {
    if (purpose.target?.needed && !round.target) return purpose.target.letter;
    return purpose.must.find((field) => !(field in round.d)) ?? null;
  }

  /** A code that could not be read as one of ours. */
  unread(round: Round, reason: string, text: string): Step {
    return this.misfit(round, { code: '', type: 'unknown', name: text, n: 0 }, reason);
  }

  // Scans

  private target(round: Round, fact: Fact): Step {
    if (fact.type === 'unknown' && fact.code[0] !== 'H') return this.misfit(round, fact, 'unnamed');
    const next = { ...round, target: fact.code };
    if (round.purpose === 'adopt') {
      const group = fact.code.startsWith('M') ? fact.groups?.[0]?.code : fact.code;
      if (!group) return this.misfit(round, fact, 'no_group');
      next.target = group;
      next.from = { code: group, first: fact.first ?? '', name: fact.name };
    }
    return this.settle(next, told('set', 'target', { name: fact.name }));
  }

  private source(round: Round, fact: Fact): Step {
    const group = fact.groups?.[0]?.code;
    if (!group) return this.misfit(round, fact, 'no_group');
    const from = { code: group, first: fact.first ?? '', name: fact.name };
    return { round: { ...round, from }, told: told('set', 'source', { name: fact.name }), acts: [] };
  }

  private take(round: Round, fact: Fact, letter: string, purpose: Purpose, taken: ReadonlySet<string>): Step {
    const counted = round.digits !== '' && !purpose.figure;
    const takes = purpose.takes + (counted || purpose.whole ? 'MP' : '');
    if (!takes.includes(letter)) return this.misfit(round, fact, 'letter');
    if (taken.has(fact.code) || round.held.some((f) => f.code === fact.code)) {
      return { round, told: told('before', 'before', { name: fact.name }), acts: [] };
    }
    const again = round.waiting.some((f) => f.code === fact.code);
    if (again && !(purpose.figure && round.digits)) return { round, told: told('before', 'waits', { name: fact.name }), acts: [] };
    if (fact.type === 'unknown' && !this.blank(round, letter) && !'KM'.includes(letter)) return this.misfit(round, fact, 'unknown');
    if (fact.ended && purpose.alive) return this.misfit(round, fact, 'ended');
    if (round.purpose === 'inoculate') {
      if (fact.gate === 'failed' && round.said['failed'] !== 'take') return this.misfit(round, fact, 'failed');
      if (unrecorded(fact) && round.said['unrecorded'] !== 'take') return this.misfit(round, fact, 'unrecorded');
      if (fact.spawned && round.said['spawned'] !== 'take') return this.misfit(round, fact, 'spawned');
    }
    if (round.purpose === 'load') {
      if (fact.spawned) return this.misfit(round, fact, 'spawned_load');
      if (fact.load !== undefined && fact.load === round.target) return { round, told: told('before', 'before', { name: fact.name }), acts: [] };
      if (letter === 'P' && !counted && !fact.codes?.length) return this.misfit(round, fact, 'empty_place');
    }
    if (counted && letter !== 'B') return this.counted(round, fact, purpose);
    if ('MP'.includes(letter) && (purpose.whole || round.purpose === 'load') && round.said['whole'] !== 'take') return this.misfit(round, fact, 'whole');
    if (purpose.figure) return this.weighed(round, fact, purpose);
    if (this.missing(round, purpose)) return this.settle({ ...round, waiting: [...round.waiting, fact] }, told('set', 'choice'));
    return this.write(round, [fact], purpose);
  }

  /** Whether an unknown bag label is a blank one that this round can stick on. */
  private blank(round: Round, letter: string): boolean {
    return letter === 'B' && (round.purpose === 'adopt' || (round.purpose === 'inoculate' && round.from !== null));
  }

  private counted(round: Round, fact: Fact, purpose: Purpose): Step {
    const n = Number(round.digits);
    const next = { ...round, digits: '' };
    const group = fact.type === 'part' ? fact : fact.groups?.find((g) => g.n >= n);
    if (!n || !group || group.n < n) return this.misfit(next, fact, 'too_few', { n });
    if (this.missing(next, purpose)) return { round, told: told('ask', `missing.${this.missing(next, purpose)}`), acts: [] };
    const some = { ...fact, code: group.code, n };
    const draft = this.draft(next, some, purpose);
    const drafts = n === group.n ? [draft] : [
      { ty: 'group.split', sub: [group.code], d: { n }, rnd: round.id } satisfies Draft,
      { ...draft, sub: round.purpose === 'load' ? [...draft.sub.slice(0, -1), 'g-@0'] : ['g-@0'] },
    ];
    return { round: next, told: told('taken', 'count', { n, name: fact.name }), acts: [{ fact: some, drafts, n }] };
  }

  // A figure typed before the next scan belongs to the bag before it: one scan less for each pick.
  private weighed(round: Round, fact: Fact, purpose: Purpose): Step {
    const acts: Act[] = [];
    let next = round;
    const [waits] = round.waiting;
    if (waits && round.digits) {
      const saved = this.figure(round, Number(round.digits));
      acts.push(...saved.acts);
      next = saved.round;
    } else if (waits) next = this.misfit(round, waits, 'no_figure').round;
    const missing = this.missing(next, purpose);
    return { round: { ...next, waiting: [fact] }, told: told('set', missing ? `missing.${missing}` : `figure.${purpose.figure}`, { name: fact.name }), acts };
  }

  private wholeOf(round: Round, fact: Fact, letter: string): Step {
    if (!'MPSH'.includes(letter) || fact.type === 'unknown') return this.misfit(round, fact, 'not_whole');
    return { round: { ...round, whole: fact.code }, told: told('set', 'whole', { name: fact.name, n: fact.n }), acts: [] };
  }

  private except(round: Round, fact: Fact): Step {
    if (fact.type !== 'part') return this.misfit(round, fact, 'letter');
    if (round.held.some((f) => f.code === fact.code)) return { round, told: told('before', 'before', { name: fact.name }), acts: [] };
    return { round: { ...round, held: [...round.held, fact] }, told: told('taken', 'except', { name: fact.name }), acts: [] };
  }

  private roll(round: Round, fact: Fact, letter: string): Step {
    if (letter !== 'P') return this.misfit(round, fact, 'letter');
    if (fact.type === 'unknown') return this.misfit(round, fact, 'unnamed');
    const [rolls] = round.waiting;
    if (!rolls) return { round: { ...round, waiting: [fact] }, told: told('set', 'rolls', { name: fact.name }), acts: [] };
    if (rolls.code === fact.code) return { round, told: told('before', 'waits', { name: fact.name }), acts: [] };
    const drafts = [{ ty: 'place.moved', sub: [rolls.code], d: { to: fact.code }, rnd: round.id }];
    return { round: { ...round, waiting: [] }, told: told('taken', 'rolled', { name: rolls.name, place: fact.name }), acts: [{ fact: rolls, drafts, n: rolls.n }] };
  }

  private misfit(round: Round, fact: Fact, reason: string, more: Record<string, number> = {}): Step {
    const known = round.misfits.find((m) => m.code === fact.code && m.reason === reason && m.code !== '');
    const one: Misfit = { code: fact.code, name: fact.name, reason, at: this.now(), ...(ANSWERABLE.includes(reason) && reason !== 'ended' ? { fact } : {}) };
    return {
      round: known ? round : { ...round, misfits: [...round.misfits, one] },
      told: { outcome: 'misfit', id: `round.misfit.${reason}`, params: { name: fact.name, n: fact.n, ...more } }, acts: [],
    };
  }

  // Writing

  /** Takes what waits as soon as nothing is missing any more. */
  private settle(round: Round, otherwise: Told): Step {
    const purpose = purposeOf(round.purpose);
    const missing = this.missing(round, purpose);
    if (missing) return { round, told: round.waiting.length || otherwise.id === 'round.told.choice' ? told('ask', `missing.${missing}`) : otherwise, acts: [] };
    if (purpose.figure || round.waiting.length === 0) return { round, told: otherwise.id === 'round.told.choice' ? told('set', 'ready') : otherwise, acts: [] };
    return this.write({ ...round, waiting: [] }, round.waiting, purpose);
  }

  private write(round: Round, facts: Fact[], purpose: Purpose, figure?: number): Step {
    if (figure !== undefined && this.missing(round, purpose)) {
      return { round: { ...round, waiting: facts, digits: String(figure) }, told: told('ask', `missing.${this.missing(round, purpose)}`), acts: [] };
    }
    if (figure === 0) return { round: { ...round, waiting: facts }, told: told('ask', 'figure_zero'), acts: [] };
    let next = round;
    const acts = facts.map((fact): Act => {
      const [drafts, after] = this.drafts(next, fact, purpose, figure);
      next = after;
      return { fact, drafts, n: Math.max(1, fact.n), ...(figure !== undefined ? { figure } : {}) };
    });
    const one = facts.length === 1 ? facts[0] : undefined;
    const bad = facts.some((f) => f.bad) && round.purpose === 'move';
    return { round: next, told: told('taken', bad ? 'taken_bad' : one ? 'taken' : 'taken_all', { name: one?.name ?? '', n: facts.length }), acts };
  }

  private drafts(round: Round, fact: Fact, purpose: Purpose, figure?: number): [Draft[], Round] {
    if (fact.type === 'unknown' && fact.code.startsWith('B') && round.from) {
      const { code, first } = round.from;
      const stick: Draft = { ty: 'group.split', sub: [code], d: { to: [fact.code], ...(first ? { first } : {}) }, rnd: round.id };
      const next = first ? { ...round, from: { ...round.from, first: numberOf(first, 1) } } : round;
      return [round.purpose === 'adopt' ? [stick] : [stick, this.draft(round, fact, purpose)], next];
    }
    if (round.purpose === 'fill' && fact.type === 'unknown') {
      // A blank batch tag: the mix begins here, its name is given by the writer.
      const mix: Draft = { ty: 'batch.mixed', sub: [fact.code], d: { name: fact.name }, rnd: round.id };
      return [[mix, this.draft(round, fact, purpose, figure)], round];
    }
    if (round.purpose === 'load' && fact.codes) {
      // A trolley goes in with what stands on it now: what is rolled onto it later was not steamed.
      const { codes } = fact;
      const pieces = Array.from({ length: Math.ceil(codes.length / MOST_CODES) }, (_, i) => codes.slice(i * MOST_CODES, (i + 1) * MOST_CODES));
      return [pieces.map((piece) => ({ ty: purpose.ty, sub: [round.target ?? '', ...piece], d: {}, rnd: round.id })), round];
    }
    const draft = this.draft(round, fact, purpose, figure);
    if (round.purpose === 'inoculate' && unrecorded(fact) && fact.load) return [[draft, notKnown(fact.load, round.id)], round];
    return [[draft], round];
  }

  private draft(round: Round, fact: Fact, purpose: Purpose, figure?: number): Draft {
    const d: Record<string, unknown> = {};
    if (round.purpose === 'load') return { ty: purpose.ty, sub: [round.target ?? '', fact.code], d, rnd: round.id };
    for (const field of purpose.choices) if (field in round.d) d[field] = round.d[field];
    if (purpose.target?.field && round.target) d[purpose.target.field] = round.target;
    if (purpose.figure && figure !== undefined) d[purpose.figure] = figure;
    if (round.purpose === 'pick') Object.assign(d, { of: fact.of ?? [], flush: round.flush ?? fact.next ?? 1 });
    if (round.purpose === 'inoculate' && fact.gate === 'failed') d['override'] = true;
    if (round.purpose === 'contaminated' && d['kept'] !== 'kept_apart') delete d['to'];
    return { ty: purpose.ty, sub: [fact.code], d, rnd: round.id };
  }

  // Commands

  private digit(round: Round, value: string): Step {
    const digits = value === 'erase' ? round.digits.slice(0, -1) : (round.digits + value).replace(/^0+(?=\d)/, '').slice(0, 6);
    return { round: { ...round, digits }, told: told('set', digits ? 'digits' : 'no_digits', { digits }), acts: [] };
  }

  private undo(round: Round): Step {
    if (round.digits) return { round: { ...round, digits: '' }, told: told('set', 'no_digits'), acts: [] };
    if (round.waiting.length) return { round: { ...round, waiting: round.waiting.slice(0, -1) }, told: told('set', 'put_back'), acts: [] };
    if (round.held.length) return { round: { ...round, held: round.held.slice(0, -1) }, told: told('set', 'put_back'), acts: [] };
    return { round, told: told('set', 'undone'), acts: [], then: 'undo' };
  }

  private all(round: Round): Step {
    const purpose = purposeOf(round.purpose);
    if (!purpose.whole) return { round, told: told('ask', 'no_whole'), acts: [] };
    return { round: { ...round, whole: '' }, told: told('set', 'all_of'), acts: [] };
  }

  private done(round: Round): Step {
    const purpose = purposeOf(round.purpose);
    if (purpose.figure && round.waiting.length && round.digits) return this.figure(round, Number(round.digits));
    if (round.whole) {
      const missing = this.missing(round, purpose);
      if (missing) return { round, told: told('ask', `missing.${missing}`), acts: [] };
      const fact: Fact = { code: round.whole, type: 'place', name: '', n: 0 };
      const draft: Draft = { ...this.draft(round, fact, purpose), ...(round.held.length ? { except: round.held.map((f) => f.code) } : {}) };
      return { round: { ...round, whole: null, held: [] }, told: told('taken', 'whole_done', { n: round.held.length }), acts: [{ fact, drafts: [draft], n: 0 }] };
    }
    // `held` is of a round begun under an older version, which kept a load's bags on the phone.
    if (round.purpose === 'load' && round.target && (round.d['result'] || round.held.length)) {
      const fact: Fact = { code: round.target, type: 'load', name: '', n: 0 };
      const sub = [round.target, ...round.held.map((f) => f.code)];
      const drafts: Draft[] = [{ ty: round.d['result'] ? 'load.ran' : 'load.filled', sub, d: round.d['result'] ? { result: round.d['result'] } : {}, rnd: round.id }];
      return { round: { ...round, held: [] }, told: told('taken', 'load_ran'), acts: [{ fact, drafts, n: round.held.length }], then: 'end' };
    }
    const left = round.waiting.reduce((r, fact) => this.misfit(r, fact, purpose.figure ? 'no_figure' : 'incomplete').round, round);
    return { round: { ...left, waiting: [], digits: '', whole: null }, told: told('set', 'ended'), acts: [], then: 'end' };
  }
}
