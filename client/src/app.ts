/**
 * The App the screens talk to: outbox and view opened, own unsent records folded on top, sync running.
 * A record is written when its transaction is complete and not before; everything else follows from it.
 */
import { signal } from '@preact/signals';
import type { Api, Fetch } from './api';
import type { App, Device, Draft, Entered, Held, HistoryLine, Line, Question, Ref, RefRow } from './app-types';
import type { Asks, Far } from './asks';
import { Clock } from './clock';
import { View, type Cursor } from './db';
import type { DeskWork } from './desk-work';
import { readyFrom } from './drafts';
import { AppError, isFullError, storageError } from './errors';
import { FindIndex, type Brief } from './findindex';
import { isBatch } from './findrow';
import { FARM, LOOSE } from './fold';
import { newCode as randomCode, typeOf } from './ids';
import { isPartCode } from './life';
import type { Line as FoldLine } from './line';
import { lineOf, NotARecord } from './line';
import { language } from './i18n';
import { Live } from './live';
import type { Others } from './others';
import { Outbox, type Kept, type Pairing, type Ready } from './outbox';
import type { Stored } from './pull';
import { questionOf } from './question';
import { newId } from './random';
import { LaterSync } from './sync-later';
import { isPrint, ownActs, voidsOf } from './undo';

declare const __APP_VERSION__: string;

export interface Options {
  fetch?: Fetch;
  outbox?: Outbox;
  view?: View;
  others?: string;
  clock?: Clock;
  /** Tests start sync themselves. */
  quiet?: boolean;
}

type News = { k: 'wrote' | 'settled' } | { k: 'stored'; whole: boolean } | { k: 'paired' };

const NO_REF: Ref = {
  places: {}, strains: {}, materials: {}, recipes: {}, spawn: {}, loads: {}, people: {}, devices: {}, settings: {}, plans: {}, vessels: {},
};

export function createApp(options: Options = {}): Core {
  return new Core(options);
}

export class Core implements App {
  readonly device = signal<Device | null>(null);
  readonly lastAct = signal<{ lines: Line[]; voided: boolean } | null>(null);
  readonly unsent = signal<{ count: number; oldest: number | null }>({ count: 0, oldest: null });
  readonly ref = signal<Ref>(NO_REF);
  readonly indexReady = signal(false);
  readonly changed = signal(0);
  readonly questions = signal<Question[]>([]);
  readonly held = signal<Held[]>([]);
  readonly link: LaterSync['link'];
  readonly version = typeof __APP_VERSION__ === 'string' ? __APP_VERSION__ : '';
  readonly sync: LaterSync;
  readonly store: Outbox;
  private readonly outbox: Outbox;
  private readonly view: View;
  private readonly fetching: Fetch | undefined;
  private readonly othersName: string | undefined;
  private others: Others | null = null;
  private readonly clock: Clock;
  private readonly index = new FindIndex();
  private readonly quiet: boolean;
  private pairing: Pairing | null = null;
  private cursor: Cursor | undefined;
  private live: Live | null = null;
  /** Own records that no stored row holds, by id. */
  private readonly own = new Map<string, { kept: Kept; line: FoldLine }>();
  private recent: FoldLine[] = [];
  /** What is being read or folded now: answers wait for it, one piece at a time. */
  private work: Promise<unknown> = Promise.resolve();
  private resettling: Promise<void> | null = null;
  private channel: BroadcastChannel | null = null;

  constructor(options: Options) {
    this.store = this.outbox = options.outbox ?? new Outbox();
    this.view = options.view ?? new View();
    this.clock = options.clock ?? new Clock();
    this.fetching = options.fetch;
    this.othersName = options.others;
    this.quiet = options.quiet ?? false;
    this.sync = new LaterSync(async () => {
      const { Sync, api, others } = await this.network();
      return new Sync(this.outbox, this.view, others, api, this.clock, () => this.pairing, {
        stored: (change) => this.onStored(change),
        settled: () => this.onSettled(),
      });
    });
    this.link = this.sync.link;
  }

  async start(): Promise<void> {
    this.listen();
    await this.readOutbox();
    // Reading the rows may take a while: a paired device is not called unpaired until then.
    if (this.pairing) this.link.value = { state: 'silent', heard: null };
    await this.inTurn(async () => {
      this.cursor = await this.view.cursor();
      await this.rebuild();
    }).catch((error: unknown) => this.report(error)); // without the view records can still be written and sent
    // The index is large: the first screen does not wait for it.
    void this.inTurn(() => this.readIndex()).catch((error: unknown) => this.report(error));
    if (!this.quiet) this.sync.start(this.pairing !== null);
  }

  async stop(): Promise<void> {
    await this.sync.stop();
    await this.work.catch(() => undefined);
    this.channel?.close();
    await Promise.all([this.outbox.close(), this.view.close()]);
  }

  async pair(code: string, deviceName: string): Promise<void> {
    const { pairWith, api, others } = await this.network();
    const pairing = await pairWith(api, this.outbox, this.view, others, code, deviceName);
    await this.readOutbox();
    if (this.pairing?.farm !== pairing.farm) throw storageError(new Error('the pairing was not kept'), 'pairing');
    this.tell({ k: 'paired' });
    await this.inTurn(async () => {
      this.cursor = await this.view.cursor();
      await this.rebuild();
      await this.readIndex();
    });
    if (!this.quiet) this.sync.now();
  }

  async write(drafts: Draft[]): Promise<Line[]> {
    if (!this.pairing) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
    const ready = readyFrom(drafts, () => newId(Date.now()));
    return this.append(ready);
  }

  newCode(letter: string): string {
    for (;;) {
      const code = randomCode(letter);
      if (!this.isKnown(code)) return code;
    }
  }

  /** Day, device letter, counter: two phones offline never make the same name. */
  newName(): string {
    const zone = String(this.ref.value.settings['zone'] ?? this.device.value?.zone ?? 'UTC');
    const day = dayIn(zone);
    const letter = this.device.value?.letter ?? 'A';
    const taken = new Set([...this.index.rows()].map((row) => row.name));
    for (let n = 1; ; n += 1) if (!taken.has(`${day} ${letter}${n}`)) return `${day} ${letter}${n}`;
  }

  async undo(): Promise<Line | null> {
    const acts = ownActs(await this.outbox.newest(200), (id) => this.lineOwn(id), (id) => this.isVoided(id));
    const last = acts.find(({ voided }) => !voided);
    if (!last) return null;
    const lines = await this.append(readyFrom(voidsOf(last.lines), () => newId(Date.now())));
    return lines.at(-1) ?? null;
  }

  async part(code: string) {
    return this.inTurn(async () => {
      const { archivedPart, partView } = await import('./answers');
      const short = this.lookedAt(code);
      if (short) return archivedPart(await this.view.rows([short]), this.index.brief(code));
      const farm = await this.farmFor([code]);
      const home = farm.home(code);
      return partView(farm, code, home ? this.index.row(home)?.asks ?? [] : []);
    });
  }

  async batch(code: string) {
    return this.inTurn(async () => {
      const { archivedBatch, batchView } = await import('./answers');
      const short = this.lookedAt(code);
      return short ? archivedBatch(await this.view.rows([short]), this.index.briefs(short)) : batchView(await this.farmFor([code]), code);
    });
  }

  async place(code: string) {
    return this.inTurn(async () => {
      const { places } = this.ref.value;
      const standing = this.index.standing(code);
      const place = places[code];
      if (!place && !standing.length) return null;
      return { code, place: place ?? {}, standing, inside: this.index.inside(code, places) };
    });
  }

  find(query: Parameters<App['find']>[0]) {
    return this.index.find(query, this.ref.value);
  }

  batchName(code: string): string | null {
    return isBatch(code) ? this.index.row(code)?.name ?? null : null;
  }

  partLabel(code: string): { num?: string; batch: string; n: number } | null {
    const brief = this.index.brief(code);
    if (!brief) return null;
    return { ...(brief.num ? { num: brief.num } : {}), batch: this.batchName(brief.unit) ?? brief.unit, n: brief.n };
  }

  async resolve(code: string): Promise<Awaited<ReturnType<App['resolve']>>> {
    const is = (known: unknown, type: Awaited<ReturnType<App['resolve']>>['type']) => ({ type: known ? type : 'unknown' as const, code });
    const { ref } = this;
    if (this.archivedUnit(code)) return is(true, typeOf(code) === 'M' ? 'batch' : 'part');
    switch (typeOf(code)) {
      case 'B': case 'G': return this.inTurn(async () => is((await this.farmFor([code])).part(code), 'part'));
      case 'M': return this.inTurn(async () => is((await this.farmFor([code])).index.allNaming(code).length, 'batch'));
      case 'P': return is(ref.value.places[code] ?? this.index.standing(code).length, 'place');
      case 'S': return is(ref.value.spawn[code], 'spawn');
      case 'H': return is(ref.value.loads[code], 'load');
      case 'K': return is(true, 'crate');
      case 'W': return is(ref.value.people[code], 'person');
      case 'X': return is(true, 'command');
      default: return is(false, 'unknown');
    }
  }

  briefs(code: string): Brief[] {
    const brief = isPartCode(code) ? this.index.brief(code) : null;
    if (brief) return [brief];
    if (typeOf(code) === 'M') return this.index.briefs(code);
    if (typeOf(code) === 'H') return this.index.inLoad(code);
    return this.index.standing(code).flatMap(({ codes }) => codes).flatMap((one) => this.index.brief(one) ?? []);
  }

  async records(limit: number): Promise<HistoryLine[]> {
    return this.inTurn(async () => {
      const lines = new Map(this.recent.map((line) => [line.id, line]));
      const index = this.live?.farm.index;
      for (const line of index?.lines.values() ?? []) lines.set(line.id, line);
      const voids = new Set([...lines.values()].filter((line) => line.k === 'record.voided' && line.w === undefined).map((line) => line.d['target']));
      const newest = [...lines.values()].sort((a, b) => b.e - a.e || b.sq - a.sq).slice(0, limit);
      return newest.map((line) => {
        const voided = index?.lines.has(line.id) ? index.voided(line.id) : voids.has(line.id);
        return { line: line as Line, ...(voided ? { voided } : {}) };
      });
    });
  }

  readonly labels = this.far('labels');
  readonly paper = this.far('paper');
  readonly pairingCode = this.far('pairingCode');
  readonly health = this.far('health');
  readonly scale = this.far('scale');
  readonly photoPart = this.far('photoPart');
  readonly photosStanding = this.far('photosStanding');
  readonly photo = this.far('photo');
  readonly pairingSheet = this.far('pairingSheet');
  readonly ask = this.far('ask');

  async stand(person: string, entered?: Entered): Promise<void> {
    const { stand, raise } = await this.network();
    await stand(this.outbox, person);
    await this.readOutbox();
    raise(this, this.device, entered, () => this.readOutbox());
  }

  async signOut(): Promise<void> {
    const { others, signOut } = await this.network();
    await signOut(this.outbox);
    await Promise.all([this.view.shed(), others.shed()]);
    await this.readOutbox();
    this.tell({ k: 'paired' });
  }

  async desk(): Promise<DeskWork> {
    const { DeskWork: Work, others } = await this.network();
    return new Work(this.outbox, others, (ask) => this.asked(ask), () => this.sync.now());
  }

  /** What is asked of the farm's computer is fetched with the rest of the network half. */
  private far<K extends keyof Asks>(name: K): Far<Asks[K]> {
    return (async (...args: unknown[]) => {
      const asks = (await this.network()).asks as unknown as Record<K, (...args: unknown[]) => unknown>;
      return asks[name]((ask: never) => this.asked(ask), ...args);
    }) as unknown as Far<Asks[K]>;
  }

  private async asked<T>(ask: (pairing: Pairing, api: Api) => Promise<T>): Promise<T> {
    if (!this.pairing) throw new AppError('not_paired', 'This device is not paired with a farm.', 'Pair it first.');
    const { asAppError, api } = await this.network();
    try {
      return await ask(this.pairing, api);
    } catch (error) {
      throw asAppError(error);
    }
  }

  private async network() {
    const network = await import('./network');
    this.others ??= new network.Others(this.othersName);
    return { ...network, api: new network.Api(this.fetching), others: this.others };
  }

  /** The batch that a code leads to, where this device holds only its summary; or null. */
  private archivedUnit(code: string): string | null {
    const unit = this.index.unitOf(code);
    return unit !== null && this.index.row(unit)?.archived ? unit : null;
  }

  /** The same for who looks at it: it is fetched, and `changed` tells when it has come. No page and no round waits. */
  private lookedAt(code: string): string | null {
    const unit = this.archivedUnit(code);
    if (unit) this.sync.want(unit);
    if (unit && !this.quiet) this.sync.afterWrite();
    return unit;
  }

  // Writing

  private async append(ready: Ready[]): Promise<Line[]> {
    const act = ready.length > 1 ? newId(Date.now()) : undefined;
    const base = this.cursor ? `${this.cursor.epoch}.${this.cursor.pos}` : '';
    const save = (): Promise<Kept[]> => this.outbox.append(ready, act, base, () => this.clock.stamp(), this.floorOf(ready));
    let kept: Kept[];
    try {
      kept = await save();
    } catch (error) {
      if (!isFullError(error)) throw storageError(error, 'saving a record');
      // The view can be fetched again, and others hold others' records; this one is nowhere else.
      await Promise.allSettled([this.view.shed(), this.network().then(({ others }) => others.shed())]);
      kept = await save().catch((again: unknown) => { throw storageError(again, 'saving a record'); });
    }
    const lines = this.keep(kept);
    this.tell({ k: 'wrote' });
    if (!lines.every(isPrint)) this.lastAct.value = { lines: lines as Line[], voided: lines.every((line) => line.k === 'record.voided') };
    await this.count();
    void this.inTurn(() => this.fold(lines)).catch((error: unknown) => this.report(error));
    if (!this.quiet) this.sync.afterWrite();
    return lines as Line[];
  }

  /** The least time new records may have: after everything known of what they are about. */
  private floorOf(ready: Ready[]): number {
    const index = this.live?.farm.index;
    let floor = 0;
    for (const { sub, d } of ready) {
      for (const code of sub) for (const id of index?.allNaming(code) ?? []) floor = Math.max(floor, (index?.get(id).e ?? 0) + 1);
      const target = typeof d['target'] === 'string' ? index?.lines.get(d['target']) ?? this.lineOwn(d['target']) : undefined;
      if (target) floor = Math.max(floor, target.e + 1);
    }
    return floor;
  }

  private keep(kept: Kept[]): FoldLine[] {
    const lines: FoldLine[] = [];
    for (const one of kept) {
      const line = this.lineOfKept(one);
      if (!line) continue;
      this.own.set(one.id, { kept: one, line });
      lines.push(line);
    }
    return lines;
  }

  private lineOfKept(kept: Kept): FoldLine | null {
    try {
      if (kept.receipt) return lineOf(kept.text, JSON.parse(kept.receipt), kept.pos ?? 0);
      return lineOf(kept.text, null, 0, this.pairing?.role[0] ?? '-');
    } catch (error) {
      if (error instanceof NotARecord) return null;
      throw error;
    }
  }

  private lineOwn(id: string): FoldLine | undefined {
    return this.own.get(id)?.line ?? this.live?.farm.index.lines.get(id);
  }

  private isVoided(id: string): boolean {
    const index = this.live?.farm.index;
    if (index?.lines.has(id)) return index.voided(id);
    return this.recent.some((line) => line.k === 'record.voided' && line.d['target'] === id);
  }

  // Keeping up

  private async readOutbox(): Promise<void> {
    this.pairing = (await this.outbox.get<Pairing>('device')) ?? null;
    this.clock.restore(await this.outbox.get('clock'));
    if (this.pairing) {
      const { dev, role, by, farm, tag, name, zone, letter } = this.pairing;
      this.device.value = { dev, role, by, farm, tag, name, zone, letter };
    } else this.device.value = null;
    this.own.clear();
    this.keep(await this.outbox.onTop());
    await this.count();
  }

  private async count(): Promise<void> {
    this.unsent.value = await this.outbox.waiting();
  }

  /** Builds the folded farm again from stored rows and own records on top. */
  private async rebuild(): Promise<void> {
    this.live = await Live.build(this.view, this.cursor?.epochs ?? [], [...this.own.values()].map(({ line }) => line));
    this.recent = await this.view.recent();
    this.index.putOnTop(this.live.rowsOnTop());
    this.show();
  }

  private async readIndex(): Promise<void> {
    this.index.store(await this.view.finds(), [], true);
    this.indexReady.value = true;
    this.show();
  }

  private async fold(lines: FoldLine[]): Promise<void> {
    if (!this.live) return;
    const touched = await this.live.add(lines);
    this.index.addOnTop(this.live.findRows(touched));
    this.show();
  }

  private show(): void {
    const ref = this.live?.farm.unit(FARM)['ref'] as Record<string, Record<string, RefRow>> | undefined;
    if (ref) this.ref.value = { ...NO_REF, ...(ref as unknown as Ref), settings: ref['settings']?.['farm'] ?? {} };
    const questions: Question[] = [];
    const held = new Map<string, Held>();
    for (const row of this.index.rows()) {
      for (const ask of row.asks) questions.push(questionOf(ask, row.unit));
      for (const one of row.held) if (row.unit !== LOOSE || !held.has(one.id)) held.set(one.id, one);
    }
    for (const { kept, line } of this.own.values()) {
      if (kept.state === 'parked') held.set(kept.id, { id: kept.id, why: kept.code ?? 'parked', line: line as Line });
    }
    this.questions.value = questions.sort((a, b) => (a.id < b.id ? -1 : 1));
    this.held.value = [...held.values()];
    this.changed.value += 1;
  }

  private async onStored(change: Stored): Promise<void> {
    this.tell({ k: 'stored', whole: change.whole });
    for (const id of change.ids) this.own.delete(id);
    await this.inTurn(async () => {
      this.cursor = change.cursor;
      this.index.store(change.finds, change.gone, change.whole);
      if (change.whole) this.indexReady.value = true;
      await this.rebuild();
    });
  }

  private async onSettled(): Promise<void> {
    this.tell({ k: 'settled' });
    await this.resettle();
  }

  /** Reads what waits again; asked for many times meanwhile (another tab writes fast), it reads once more. */
  private resettle(): Promise<void> {
    this.resettling ??= this.inTurn(async () => {
      this.resettling = null;
      this.own.clear();
      const lines = this.keep(await this.outbox.onTop());
      await this.count();
      await this.fold(lines);
    });
    return this.resettling;
  }

  /** Another tab wrote, sent or fetched: look again at what is stored. */
  private listen(): void {
    if (typeof BroadcastChannel === 'undefined') return;
    this.channel = new BroadcastChannel('bagtrail');
    this.channel.onmessage = (event: MessageEvent<News>) => { void this.heard(event.data).catch((error: unknown) => this.report(error)); };
  }

  private async heard(news: News): Promise<void> {
    if (news.k === 'paired') await this.readOutbox();
    if (news.k !== 'stored') return this.resettle();
    await this.inTurn(async () => {
      this.own.clear();
      this.keep(await this.outbox.onTop());
      this.cursor = await this.view.cursor();
      await this.rebuild();
      await this.readIndex();
    });
  }

  private tell(news: News): void {
    this.channel?.postMessage(news);
  }

  private report(error: unknown): void {
    const why = error instanceof Error ? error.message : String(error);
    this.link.value = { ...this.link.value, state: 'error', message: why };
  }

  private isKnown(code: string): boolean {
    const { ref } = this;
    return this.index.unitOf(code) !== null || code in ref.value.places || code in ref.value.spawn || code in ref.value.loads
      || code in ref.value.people || Boolean(this.live?.farm.index.allNaming(code).length);
  }

  private async farmFor(codes: string[]) {
    this.live ??= await Live.build(this.view, this.cursor?.epochs ?? [], [...this.own.values()].map(({ line }) => line));
    return this.live.ask(codes);
  }

  /** One piece of work after the other, so that an answer never sees half of a change. */
  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.work.then(work, work);
    this.work = turn.catch(() => undefined);
    return turn;
  }
}

/** "25 Nov" in a zone, in the language of whoever names the batch; the name then stays as it is. */
function dayIn(zone: string): string {
  const words = (timeZone: string): string =>
    new Intl.DateTimeFormat(language.value, { timeZone, day: 'numeric', month: 'short' }).format(Date.now());
  try {
    return words(zone);
  } catch {
    return words('UTC'); // a zone this browser does not know
  }
}

