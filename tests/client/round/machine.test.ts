/** The round as a pure machine: what each scan means, what is written, what is asked and how often. */
import { describe, expect, it } from 'vitest';
import { check } from '../../../client/src/check';
import { KINDS } from '../../../client/src/catalogue';
import { Machine, type Step } from '../../../client/src/round/machine';
import { newRound, type Fact, type Round } from '../../../client/src/round/state';
import { checkSymbol } from '../../../client/src/ids';

const code = (body: string): string => body + checkSymbol(body);
const SHELF = code('P0000001'); const SHELF2 = code('P0000002'); const LOT = code('S0000001'); const LOAD = code('H0000001');
const BATCH = code('M0000001'); const GROUP = code('G0000001'); const LOOSE = 'g-00000000-0000-7000-8000-000000000001';
const bag = (i: number, more: Partial<Fact> = {}): Fact => ({ code: code(`B00000${String(i).padStart(2, '0')}`), type: 'part', name: `A${i}`, n: 1, ...more });
const shelf: Fact = { code: SHELF, type: 'place', name: 'A3', n: 12 };
const lot: Fact = { code: LOT, type: 'spawn', name: 'Fen 4', n: 0 };
const batch: Fact = { code: BATCH, type: 'batch', name: '25 Nov A1', n: 60, groups: [{ code: LOOSE, n: 60 }], first: 'A1' };

/** Runs events as the driver does: what was taken is remembered, undo forgets the last. */
class Play {
  readonly machine = new Machine(() => 1000);
  readonly taken = new Set<string>();
  round: Round;
  last!: Step;
  readonly wrote: { ty: string; sub: string[]; d?: Record<string, unknown>; except?: string[] }[] = [];

  constructor(purpose: string) { this.round = newRound('r', purpose, 1000); }

  private after(step: Step): this {
    this.last = step;
    this.round = step.round;
    for (const act of step.acts) {
      this.taken.add(act.fact.code);
      // Whatever a round writes, the catalogue takes.
      for (const draft of act.drafts) {
        const sub = draft.sub.map((s) => (s === 'g-@0' ? LOOSE : s));
        expect(check(draft.ty, KINDS.get(draft.ty)?.version ?? 0, sub, (draft.d ?? {}) as never), JSON.stringify(draft)).toBe(null);
        expect(draft.ty === 'group.split' || draft.rnd === 'r' || draft.sub[0] === 'g-@0').toBe(true);
        this.wrote.push(draft);
      }
    }
    return this;
  }

  scan(...facts: Fact[]): this { for (const fact of facts) this.after(this.machine.scan(this.round, fact, this.taken)); return this; }
  say(...words: string[]): this { for (const word of words) this.after(this.machine.command(this.round, word)); return this; }
  get outcome(): string { return this.last.told.outcome; }
  get told(): string { return this.last.told.id; }
}

describe('a round of scans', () => {
  it('takes each bag once; a second scan is told as taken before and writes nothing', () => {
    const play = new Play('move').scan(shelf, bag(1), bag(2), bag(1));
    expect(play.outcome).toBe('before');
    expect(play.wrote.map((w) => [w.ty, w.sub, w.d])).toEqual([['bag.moved', [bag(1).code], { to: SHELF }], ['bag.moved', [bag(2).code], { to: SHELF }]]);
  });

  it('takes bags scanned before the target as soon as it is there', () => {
    const play = new Play('move').scan(bag(1), bag(2));
    expect(play.outcome).toBe('ask');
    expect(play.wrote).toEqual([]);
    play.scan(shelf);
    expect(play.wrote.map((w) => w.sub[0])).toEqual([bag(1).code, bag(2).code]);
    expect(play.round.waiting).toEqual([]);
  });

  it('changes the target with the tag of another shelf or spawn lot', () => {
    const play = new Play('move').scan(shelf, bag(1), { ...shelf, code: SHELF2, name: 'A4' }, bag(2));
    expect(play.wrote.map((w) => w.d?.['to'])).toEqual([SHELF, SHELF2]);
    const lots = new Play('inoculate').scan(lot, bag(1), { ...lot, code: code('S0000002') }, bag(2));
    expect(lots.wrote.map((w) => w.d?.['spawn'])).toEqual([LOT, code('S0000002')]);
  });

  it.each([
    ['unknown', bag(9, { type: 'unknown', n: 0 })],
    ['ended', bag(9, { ended: 'dumped' })],
    ['letter', { code: code('W0000001'), type: 'person', name: 'Mira', n: 0 } as Fact],
    ['unnamed', { code: SHELF2, type: 'unknown', name: '', n: 0 } as Fact],
  ])('goes on after a misfit: %s', (reason, misfit) => {
    const play = new Play('move').scan(shelf, misfit);
    expect([play.outcome, play.told]).toEqual(['misfit', `round.misfit.${reason}`]);
    play.scan(bag(1), misfit, bag(2));
    expect(play.wrote).toHaveLength(2);
    expect(play.round.misfits).toHaveLength(1);
  });

  it('asks once for a reason: what was said holds for all later bags', () => {
    const play = new Play('inoculate').scan(lot, bag(1, { gate: 'failed' }), bag(2, { gate: 'failed' }));
    expect(play.wrote).toEqual([]);
    expect(play.machine.open(play.round)?.reason).toBe('failed');
    play.say('yes');
    expect(play.wrote.map((w) => w.d)).toEqual([{ spawn: LOT, override: true }, { spawn: LOT, override: true }]);
    expect(play.machine.open(play.round)).toBe(null);
    play.scan(bag(3, { gate: 'failed' }));
    expect(play.outcome).toBe('taken');
    expect(play.round.misfits).toEqual([]);
  });

  it('leaves what was refused, without asking again', () => {
    const play = new Play('inoculate').scan(lot, bag(1, { spawned: true })).say('no').scan(bag(2, { spawned: true }));
    expect(play.outcome).toBe('misfit');
    expect(play.machine.open(play.round)).toBe(null);
    expect(play.round.misfits).toHaveLength(2);
    expect(play.wrote).toEqual([]);
  });

  it('takes a code that is not ours as a misfit and goes on', () => {
    const play = new Play('look');
    play.round = play.machine.unread(play.round, 'other_farm', '9ZZZ').round;
    expect(play.round.misfits[0]).toMatchObject({ reason: 'other_farm', name: '9ZZZ' });
    expect(play.scan(bag(1)).outcome).toBe('taken');
  });
});

describe('choices and figures', () => {
  it('waits until sign, place and fate are told, then takes what was scanned and all that follows', () => {
    const play = new Play('contaminated').scan(bag(1)).say('sign.green_mould', 'where.top');
    expect(play.wrote).toEqual([]);
    expect(play.told).toBe('round.told.missing.kept');
    play.say('kept.thrown_out').scan(bag(2)).say('sign.cobweb').scan(bag(3));
    expect(play.wrote.map((w) => w.d?.['sign'])).toEqual(['green_mould', 'green_mould', 'cobweb']);
  });

  it('weighs: bag, digits, next bag; the figure belongs to the bag before', () => {
    const of: [string, string][] = [[BATCH, '']];
    const play = new Play('pick').scan(bag(1, { of, next: 2 })).say('digit.4', 'digit.1', 'digit.2').scan(bag(2, { of, next: 1 })).say('flush.3', 'digit.9', 'done');
    expect(play.wrote.map((w) => w.d)).toEqual([{ g: 412, of, flush: 2 }, { g: 9, of, flush: 3 }]);
    expect(play.last.then).toBeUndefined();
    expect(play.say('done').last.then).toBe('end');
  });

  it('never saves a pick of nothing, and says so', () => {
    const play = new Play('pick').scan(bag(1, { of: [[BATCH, '']] })).say('digit.0', 'done');
    expect(play.wrote).toEqual([]);
    expect(play.told).toBe('round.told.figure_zero');
  });

  it('keeps a bag without a weight as a misfit, not as nothing', () => {
    const play = new Play('pick').scan(bag(1, { of: [[BATCH, '']] }), bag(2, { of: [[BATCH, '']] }));
    expect(play.round.misfits.map((m) => [m.name, m.reason])).toEqual([['A1', 'no_figure']]);
  });

  it('fills: a blank batch tag and a count', () => {
    const play = new Play('fill').scan({ code: BATCH, type: 'unknown', name: '25 Nov A1', n: 0 }).say('digit.4', 'digit.0', 'done');
    expect(play.wrote.map((w) => [w.ty, w.d])).toEqual([['batch.mixed', { name: '25 Nov A1' }], ['bag.filled', { n: 40 }]]);
  });
});

describe('counts, blank labels and wholes', () => {
  it('takes 40 of a batch by digits: the split and the act on its child in one act', () => {
    const play = new Play('inoculate').scan(lot).say('digit.4', 'digit.0').scan(batch);
    expect(play.wrote.map((w) => [w.ty, w.sub, w.d])).toEqual([['group.split', [LOOSE], { n: 40 }], ['bag.inoculated', ['g-@0'], { spawn: LOT }]]);
    expect(play.round.digits).toBe('');
  });

  it('says when there are fewer than counted', () => {
    const play = new Play('inoculate').scan(lot).say('digit.9', 'digit.9').scan(batch);
    expect([play.told, play.wrote.length]).toEqual(['round.misfit.too_few', 0]);
  });

  it('adopts blank labels from a group, each with the next number', () => {
    const play = new Play('adopt').scan(batch, bag(1, { type: 'unknown', n: 0 }), bag(2, { type: 'unknown', n: 0 }));
    expect(play.wrote.map((w) => [w.sub[0], w.d])).toEqual([[LOOSE, { to: [bag(1).code], first: 'A1' }], [LOOSE, { to: [bag(2).code], first: 'A2' }]]);
  });

  it('adopts and inoculates in one scan where the batch was scanned first', () => {
    const play = new Play('inoculate').scan(lot, batch, bag(1, { type: 'unknown', n: 0 }));
    expect(play.wrote.map((w) => w.ty)).toEqual(['group.split', 'bag.inoculated']);
  });

  it('writes all but these as one record of one walk', () => {
    const play = new Play('look').say('all_but').scan(shelf, bag(1), bag(2), bag(1)).say('done');
    expect(play.wrote).toEqual([{ ty: 'bag.checked', sub: [SHELF], d: {}, rnd: 'r', except: [bag(1).code, bag(2).code] }]);
  });

  const load: Fact = { code: LOAD, type: 'unknown', name: '', n: 0 };

  it('puts each bag into the load at its scan, and closes it only when a result was told', () => {
    const play = new Play('load').scan(bag(1), load, bag(2), bag(2)).say('done');
    expect(play.wrote.map((w) => [w.ty, w.sub])).toEqual([['load.filled', [LOAD, bag(1).code]], ['load.filled', [LOAD, bag(2).code]]]);
    expect(play.last.then).toBe('end');
    play.say('result.passed', 'done');
    expect(play.wrote.at(-1)).toEqual({ ty: 'load.ran', sub: [LOAD], d: { result: 'passed' }, rnd: 'r' });
  });

  it('puts some of a group, and what stands on a trolley, into a load', () => {
    const play = new Play('load').scan(load).say('digit.2', 'digit.0').scan(batch);
    expect(play.wrote.map((w) => [w.ty, w.sub, w.d])).toEqual([['group.split', [LOOSE], { n: 20 }], ['load.filled', [LOAD, 'g-@0'], {}]]);
    play.scan({ ...shelf, codes: [bag(1).code, LOOSE] });
    expect(play.told).toBe('round.misfit.whole');
    play.say('yes');
    expect(play.wrote.at(-1)?.sub).toEqual([LOAD, bag(1).code, LOOSE]);
    // As many as a room may hold: every record stays within its size.
    const many = Array.from({ length: 700 }, (_, i) => code(`B0000${String(i).padStart(3, '0')}`));
    const room = new Play('load').scan(load, { ...shelf, codes: many }).say('yes');
    expect(room.wrote.map((w) => w.sub.length)).toEqual([301, 301, 101]);
  });

  it('keeps what was inoculated, or stands in it already, out of a load', () => {
    const play = new Play('load').scan(load, bag(1, { spawned: true }), bag(2, { load: LOAD, gate: 'open' }), { ...shelf, codes: [] });
    expect(play.wrote).toEqual([]);
    expect(play.round.misfits.map((m) => m.reason)).toEqual(['spawned_load', 'empty_place']);
  });

  it('asks once about a load without a result, and the answer is a record of the load', () => {
    const open = { gate: 'open', load: LOAD };
    const play = new Play('inoculate').scan(lot, bag(1, open));
    expect([play.told, play.wrote]).toEqual(['round.misfit.unrecorded', []]);
    play.say('yes');
    expect(play.wrote.map((w) => [w.ty, w.sub, w.d])).toEqual([
      ['bag.inoculated', [bag(1).code], { spawn: LOT }], ['load.ran', [LOAD], { result: 'unsure', asked: true }]]);
    // From here on every phone knows that it was asked.
    play.scan(bag(2, { gate: 'unsure', load: LOAD, asked: true }));
    expect(play.wrote.length).toBe(3);
    expect(new Play('inoculate').scan(lot, bag(3, { gate: 'unsure', load: LOAD, asked: true })).told).toBe('round.told.taken');
  });

  it('writes what an older version held on the phone when its round ends', () => {
    const play = new Play('load').scan(load);
    play.round = { ...play.round, held: [bag(1)] };
    expect(play.say('done').wrote).toEqual([{ ty: 'load.filled', sub: [LOAD, bag(1).code], d: {}, rnd: 'r' }]);
  });

  it('rolls a trolley to a room', () => {
    const play = new Play('roll').scan({ ...shelf, name: 'Trolley 3' }, { ...shelf, code: SHELF2, name: 'Room 2' });
    expect(play.wrote).toEqual([{ ty: 'place.moved', sub: [SHELF], d: { to: SHELF2 }, rnd: 'r' }]);
  });

  it('takes a whole group by its tag', () => {
    const play = new Play('open').say('how.slit').scan({ code: GROUP, type: 'part', name: '60 bags', n: 60 });
    expect(play.last.acts[0]?.n).toBe(60);
  });
});

describe('undo', () => {
  it('first clears what was only begun, then asks for the last record back', () => {
    const play = new Play('pick').scan(bag(1, { of: [[BATCH, '']] })).say('digit.4');
    expect(play.say('undo').round.digits).toBe('');
    expect(play.say('undo').round.waiting).toEqual([]);
    expect(play.say('undo').last.then).toBe('undo');
  });
});
