/**
 * A round as it runs: scans one after the other through the machine, each taken one a record at once, and what no
 * record says (purpose, target, misfits) beside the outbox, so that a locked screen, a reload or a dead battery
 * costs nothing. After any of them the lines are read back from the records that carry the round's id.
 */
import { signal } from '@preact/signals';
import type { App, Draft, Line } from '../app-types';
import { commandOf } from './commands';
import { Machine, type Act, type Step, type Told } from './machine';
import { isRound, newRound, type Fact, type Round, type Taken } from './state';

const KEY = 'round';
/** How far back own records are read for a round's lines: 16 hours of a scan every ten seconds. */
const MOST_RECORDS = 6_000;

/** What the driver needs of the app and of the screen. */
export interface World {
  app: Pick<App, 'write' | 'store'>;
  fact(code: string): Promise<Fact>;
  name(code: string): string;
  newId(): string;
  now(): number;
  /** Sound, vibration and picture of a step. */
  tell(told: Told): void;
  /** What to say of an error that kept a record from being stored. */
  failed(error: unknown): void;
}

export class Driver {
  readonly round = signal<Round | null>(null);
  readonly taken = signal<Taken[]>([]);
  readonly told = signal<(Told & { nth: number }) | null>(null);
  /** Set when a command tag asked for another purpose or the end: the screen goes there. */
  readonly then = signal<Step['then'] | null>(null);
  private readonly machine: Machine;
  private turn: Promise<unknown> = Promise.resolve();
  private nth = 0;

  constructor(private readonly world: World) {
    this.machine = new Machine(() => world.now());
  }

  /** The round that was going on, with its lines read back from the records; null where there was none. */
  resume(): Promise<Round | null> {
    return this.inTurn(async () => {
      const kept = await this.world.app.store.get<unknown>(KEY);
      if (!isRound(kept)) return null;
      this.taken.value = await this.linesOf(kept);
      this.round.value = kept;
      return kept;
    });
  }

  /** Begins a round; one that is going on is closed as it stands. */
  begin(purpose: string, set: Partial<Pick<Round, 'target' | 'd' | 'from' | 'whole'>> = {}): Promise<void> {
    return this.inTurn(async () => {
      this.taken.value = [];
      this.told.value = null;
      await this.keep({ ...newRound(this.world.newId(), purpose, this.world.now()), ...set });
    });
  }

  /** The round is over and forgotten; its records stay what they are. */
  close(): Promise<void> {
    return this.inTurn(async () => {
      await this.world.app.store.set(KEY, null);
      this.round.value = null;
      this.taken.value = [];
    });
  }

  /** A code from camera, wedge scanner or keyboard. Resolves when it is stored and told. */
  scan(code: string): Promise<Told | null> {
    const word = code.startsWith('X') ? commandOf(code) : null;
    if (code.startsWith('X') && word === null) return this.step(async (round) => this.machine.unread(round, 'command', code));
    if (word) return this.command(word);
    return this.step(async (round) => this.machine.scan(round, await this.world.fact(code), this.codes()));
  }

  command(word: string): Promise<Told | null> {
    return this.step(async (round) => this.machine.command(round, word));
  }

  figure(value: number): Promise<Told | null> {
    return this.step(async (round) => this.machine.figure(round, value));
  }

  answer(take: boolean): Promise<Told | null> {
    return this.step(async (round) => this.machine.answer(round, take));
  }

  unread(reason: string, text: string): Promise<Told | null> {
    return this.step(async (round) => this.machine.unread(round, reason, text));
  }

  /** Takes one line back: its records are voided, and the bag may be scanned again. */
  undo(line: Taken): Promise<void> {
    return this.inTurn(() => this.takeBack(line));
  }

  open(round: Round) { return this.machine.open(round); }
  missing(round: Round) { return this.machine.missing(round); }

  private codes(): Set<string> {
    return new Set(this.taken.value.map(({ code }) => code));
  }

  private step(make: (round: Round) => Promise<Step>): Promise<Told | null> {
    return this.inTurn(async () => {
      const round = this.round.value;
      if (!round) return null;
      try {
        const step = await make(round);
        for (const act of step.acts) await this.write(act);
        await this.keep(step.round);
        if (step.then === 'undo') return await this.undoLast();
        if (step.then) this.then.value = step.then;
        return this.say(step.told);
      } catch (error) {
        this.world.failed(error);
        return this.say({ outcome: 'misfit', id: 'round.misfit.not_saved' });
      }
    });
  }

  private async write(act: Act): Promise<void> {
    const lines = await this.world.app.write(act.drafts);
    this.taken.value = [...this.taken.value, lineFor(act, lines, this.world.now())];
  }

  private async undoLast(): Promise<Told> {
    const last = this.taken.value.at(-1);
    if (!last) return this.say({ outcome: 'ask', id: 'round.told.nothing_to_undo' });
    await this.takeBack(last);
    return this.say({ outcome: 'set', id: 'round.told.undone', params: { name: last.name } });
  }

  private async takeBack(line: Taken): Promise<void> {
    await this.world.app.write([...line.records].reverse().map(({ id, sub }): Draft => ({ ty: 'record.voided', sub, d: { target: id, why: 'undo' } })));
    this.taken.value = this.taken.value.filter((one) => one !== line);
  }

  private say(told: Told): Told {
    this.world.tell(told);
    this.told.value = { ...told, nth: (this.nth += 1) };
    return told;
  }

  private async keep(round: Round): Promise<void> {
    // Most scans change nothing but the log; then one transaction is enough.
    if (round === this.round.value) return;
    await this.world.app.store.set(KEY, round);
    this.round.value = round;
  }

  private async linesOf(round: Round): Promise<Taken[]> {
    const acts = new Map<string, Taken>();
    const voided = new Set<string>();
    const records = (await this.world.app.store.newest(MOST_RECORDS)).filter(({ at }) => at >= round.began - 60_000).reverse();
    for (const { id, at, act, text } of records) {
      const record = JSON.parse(text) as { ty: string; sub: string[]; rnd?: string; d: Record<string, unknown> };
      if (record.ty === 'record.voided') voided.add(String(record.d['target']));
      if (record.rnd !== round.id) continue;
      const one = { id, sub: record.sub };
      const before = acts.get(act ?? id);
      const figure = record.d['g'] ?? record.d['n'];
      if (before) before.records.push(one);
      else {
        const code = codeOfLine(record, id);
        acts.set(act ?? id, {
          code, name: this.world.name(code), n: Math.max(1, Number(record.d['n'] ?? 1)), records: [one], at,
          ...(typeof figure === 'number' && record.ty !== 'group.split' ? { figure } : {}),
        });
      }
    }
    return [...acts.values()].filter(({ records: own }) => !own.every(({ id }) => voided.has(id)));
  }

  /** One thing after the other: a quick hand is faster than a write. */
  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const next = this.turn.then(work, work);
    this.turn = next.catch(() => undefined);
    return next;
  }
}

function lineFor(act: Act, lines: Line[], at: number): Taken {
  const first = { ty: lines[0]?.k ?? '', sub: lines[0]?.s ?? [act.fact.code], d: lines[0]?.d ?? {} };
  return {
    code: codeOfLine(first, lines[0]?.id ?? ''), name: act.fact.name, n: act.n, records: lines.map(({ id, s }) => ({ id, sub: s })), at,
    ...(act.figure !== undefined ? { figure: act.figure } : {}),
  };
}

/** What a line is about: a part taken off a group is another one each time, a stuck label is the bag's own. */
function codeOfLine(record: { ty: string; sub: string[]; d: Record<string, unknown> }, id: string): string {
  if (record.ty === 'load.filled') return record.sub.at(-1) ?? '';
  if (record.ty !== 'group.split') return record.sub[0] ?? '';
  return (record.d['to'] as string[] | undefined)?.[0] ?? `g-${id}`;
}
