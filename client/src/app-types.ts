/**
 * What screens may call: the one border between the data layer (app.ts builds an `App`) and the
 * screens (which never touch IndexedDB, fetch or the log). Types only, and one error class.
 *
 * Units: whole grams, whole milliseconds (Unix, UTC), codes as nine Crockford symbols.
 */
import type { Signal, ReadonlySignal } from '@preact/signals';
import type { DeskWork } from './desk-work';
import type { Brief } from './findindex';

/** An error meant for a person: `code` selects the sentence `error.<code>`, `details` fill it. */
export class AppError extends Error {
  constructor(
    readonly code: string,
    message: string,
    readonly todo: string = '',
    readonly details: Record<string, unknown> = {},
  ) {
    super(message);
    this.name = 'AppError';
  }
}

export interface Happened {
  ms: number;
  /** m: exact to the minute; d: only the day is known (stored as 12:00 in the farm's zone). */
  p: 'm' | 'd';
}

/**
 * One record to be written. Two shorthands, filled in by `write`: a subject of the bare word `strain`,
 * `material` or `recipe` becomes `strain-<this record's id>`; a subject `g-@2` becomes the untagged part
 * that draft 2 of the same call gives birth to (act on 20 of 60: the split, then the act on its child).
 */
export interface Draft {
  ty: string;
  sub: string[];
  except?: string[];
  on?: Happened;
  d?: Record<string, unknown>;
  rnd?: string;
}

/** The compact record of the fold; absent keys are left out. */
export interface Line {
  id: string;
  k: string;
  tv?: number;
  t: number;
  e?: number;
  st?: string;
  sq?: number;
  o?: 'm' | 'd';
  b?: string;
  by?: string;
  dev?: string;
  a?: string;
  ep?: string;
  /** 0: not sent yet. */
  p?: number;
  f?: string[];
  g?: string;
  r?: string;
  s: string[];
  x?: string[];
  d?: Record<string, unknown>;
}

export interface Device {
  dev: string;
  role: 'owner' | 'manager' | 'worker';
  by: string;
  farm: string;
  tag: string;
  name: string;
  zone: string;
  letter: string;
  /** `role` is the person's who has shown a PIN here, for minutes, and more than the device's own. */
  raised?: true;
}

/** What the farm's computer answers to a right PIN: the person's role and the pass that carries it. */
export interface Entered {
  role?: string;
  pass?: string;
}

export interface Bad {
  sign: string;
  where?: string;
  kept?: string;
  t: number;
}

export interface Part {
  n: number;
  born: number;
  up?: string;
  id: string;
  num?: string;
  stage: string;
  since: number;
  inferred?: string[];
  /** Absent when unknown, and once its life has ended. */
  place?: string | null;
  placed?: number;
  strain?: string;
  spawn?: string;
  load?: string;
  gate?: 'open' | 'passed' | 'failed' | 'unsure' | 'overridden';
  fill_g?: number;
  bad?: Bad;
  odd?: Record<string, unknown>;
  flush?: number;
  next?: number;
  g?: number;
  end?: string;
  ended?: number;
  last?: number;
}

export interface HistoryLine {
  line: Line;
  /** The void that took it back, if any. */
  voided?: boolean;
  /** The code the act was said of, where that is not the part itself (its place, batch, group). */
  via?: string;
}

/** What two records could not settle, as the fold asks it, with the records it is about. */
export interface Question {
  id: string;
  /** Which rule asks: the sentence is `question.<rule>`. */
  rule: string;
  recs: string[];
  sub: string[];
  known?: boolean;
  /** The lines of `recs`, in that order, as far as this device holds them. */
  lines: Line[];
  /** Records that void one of `recs` (a voided split may be brought back by voiding its void). */
  voids: Line[];
  batch?: string;
}

export interface Held {
  id: string;
  why: string;
  line: Line;
}

/** Of a batch or one strain of it; see `rules.summary`. Counts of bags, grams, 0.01 %. */
export interface Sums {
  bags: number;
  live: number;
  spawned: number;
  stages: Record<string, number>;
  places: Record<string, number>;
  bad: number;
  odd: number;
  ends: Record<string, number>;
  /** Oven-dry substrate of the spawned bags; absent when a fill weight or the moisture is unknown. */
  dry_g?: number;
  flushes: Record<string, number>;
  g: number;
  be?: number;
}

export interface Summary {
  all: Sums;
  strains: Record<string, Sums>;
  shared: { of: [string, string][]; g: number; flush: number }[];
}

export interface PartView {
  code: string;
  part: Part;
  batch: { code: string; name: string; mixed?: number; recipe?: string };
  history: HistoryLine[];
  questions: Question[];
  /** Its batch ended long ago: only what Find knows of it is on this device. */
  archived?: true;
}

export interface BatchView {
  code: string;
  name: string;
  parts: Record<string, Part>;
  summary: Summary;
  /** 0.01 % wet basis. */
  moisture?: number;
  recipe?: string;
  mixed?: number;
  /** It ended long ago: its parts are as Find knows them, their history is not on this device. */
  archived?: true;
}

export interface Standing {
  batch: string;
  name: string;
  strain?: string;
  stage: string;
  n: number;
  codes: string[];
  since?: number;
  bad?: boolean;
}

export interface PlaceView {
  code: string;
  place: RefRow;
  standing: Standing[];
  inside: { code: string; place: RefRow; n: number }[];
}

export interface Query {
  text?: string;
  batch?: string;
  strain?: string;
  place?: string;
  stage?: string;
  minAgeDays?: number;
  bad?: boolean;
}

/** One row a batch, place, stage and strain. */
export interface Found {
  batch: string;
  name: string;
  strain?: string;
  place: string | null;
  stage: string;
  n: number;
  codes: string[];
  since: number;
  bad?: boolean;
}

export interface Suggestion {
  ty: string;
  likely?: boolean;
}

export type RefRow = Record<string, unknown> & { name?: string };

export interface Ref {
  places: Record<string, RefRow>;
  strains: Record<string, RefRow>;
  materials: Record<string, RefRow>;
  recipes: Record<string, RefRow>;
  spawn: Record<string, RefRow>;
  loads: Record<string, RefRow>;
  people: Record<string, RefRow>;
  devices: Record<string, RefRow>;
  /** Mixes that are planned, by `plan-...`. */
  plans: Record<string, RefRow>;
  vessels: Record<string, RefRow>;
  /** The farm's own fields: name, zone, currency. */
  settings: Record<string, unknown>;
}

export interface LinkState {
  /** unconfirmed: the log was put back, it sends but does not fetch; two_servers: two logs live for one farm. */
  state: 'ok' | 'offline' | 'silent' | 'portal' | 'unpaired' | 'unconfirmed' | 'two_servers' | 'error';
  heard: number | null;
  message?: string;
}

export type ResolvedType =
  | 'part' | 'batch' | 'place' | 'spawn' | 'load' | 'crate' | 'person' | 'command' | 'unknown';

export interface Label {
  code: string;
  batch?: string;
  number?: string;
  what?: string;
  day?: string;
  free?: string;
  /** Of tags: the name of what carries it, its type in words, and which sign it has. */
  title?: string;
  word?: string;
  sort?: string;
}

/** What a new phone opens first. `qr`: rows of 0 and 1; `check`: what its page must show. */
export interface Invitation {
  url: string;
  qr: string[];
  check: string | null;
}

/** What /api/health says; `ok` when `sentences` is empty. Times in ms UTC, sizes in bytes. */
export interface Health {
  ok: boolean;
  sentences: string[];
  version: string;
  certificate: { origin: string; days: number | null; authority: { code: string } | null } | null;
  addresses: string[];
  phones: { dev: string; name: string; state: string; seen: number; waiting: number; app: string | null; clock_ms: number | null }[];
  backups: { name: string; at: number; pos: number; fault: string; counts: boolean }[];
  durable: number;
  head: number;
  disk: { free: number; total: number };
  chain: { verified: number; head: number; broken: number };
}

/** What became of the records that were taken in from files: counts. */
export interface FileStanding {
  waiting: number;
  arrived: number;
  /** The farm's computer had them already. */
  known: number;
  held: number;
  refused: number;
}

export interface BackupRow {
  name: string;
  at: number;
  pos: number;
  size: number;
  verified: number;
  fault: string;
  gone: number;
  elsewhere: boolean | number;
  away: number;
  counts: boolean;
}

export interface DeviceRow {
  dev: string;
  name: string;
  letter: string;
  role: string;
  person: string;
  state: string;
  made: number;
  seen: number;
  waiting: number;
  oldest: number;
  lost: number;
}

/** What /api/sync/state says. Times in ms UTC; `durable` and `head` are places in the log. */
export interface LogState {
  epoch: string;
  head: number;
  durable: number;
  put_back: { why: string; at: number; pos: number; back_to: number; records: number; phones: [string, number][]; unheard: string[] } | null;
  two_servers: { at: number; dev: string; n: number } | null;
  devices: DeviceRow[];
  backups: BackupRow[];
}

/**
 * Lines of the scale on the farm's computer: `n` is the number of the last one, each line comes with its own.
 * unset: no scale was named to the server; gone: the port is not there; busy: another program has it.
 */
export interface ScaleLines {
  state: 'unset' | 'open' | 'gone' | 'busy';
  n: number;
  lines: [number, string][];
}

/** `invitation` is null where phones are not served. */
export interface PairingCode {
  code: string;
  expires: number;
  url: string;
  invitation: Invitation | null;
}

export interface Keep {
  get<T>(name: string): Promise<T | undefined>;
  set(name: string, value: unknown): Promise<void>;
  newest(limit: number): Promise<{ id: string; at: number; act?: string; text: string }[]>;
}

export interface App {
  start(): Promise<void>;
  device: ReadonlySignal<Device | null>;
  pair(code: string, deviceName: string): Promise<void>;
  write(drafts: Draft[]): Promise<Line[]>;
  newCode(letter: string): string;
  newName(): string;
  undo(): Promise<Line | null>;
  lastAct: ReadonlySignal<{ lines: Line[]; voided: boolean } | null>;
  unsent: ReadonlySignal<{ count: number; oldest: number | null }>;
  link: ReadonlySignal<LinkState>;
  ref: ReadonlySignal<Ref>;
  part(code: string): Promise<PartView | null>;
  batch(code: string): Promise<BatchView | null>;
  place(code: string): Promise<PlaceView | null>;
  find(q: Query): Found[];
  /** The name of a batch this device knows; a look-up in memory. */
  batchName(code: string): string | null;
  /** Number, batch name and count of a part this device knows; a look-up in memory. */
  partLabel(code: string): { num?: string; batch: string; n: number } | null;
  indexReady: ReadonlySignal<boolean>;
  /** Grows with every change of what this device knows (written here or pulled). */
  changed: ReadonlySignal<number>;
  resolve(code: string): Promise<{ type: ResolvedType; code: string }>;
  questions: ReadonlySignal<Question[]>;
  held: ReadonlySignal<Held[]>;
  /** The parts a code stands for, in brief: one part, all of a batch, or all that stands at a place. */
  briefs(code: string): Brief[];
  /** The newest records of the log this phone holds, newest first. */
  records(limit: number): Promise<HistoryLine[]>;
  /** Kept beside the outbox, for what must outlive a reload and is no record; and own records, newest first. */
  store: Keep;
  /** Whatever /api/labels draws or lists, by the path behind it; needs the farm's computer. */
  labels(path: string, type: string, body?: object): Promise<Blob>;
  /** A page for the wall or the pocket as a PDF; its words are given. Needs the farm's computer. */
  paper(kind: 'card' | 'day-sheet' | 'mix-sheet', words: object): Promise<Blob>;
  /** A one-time code that pairs another device (owner, manager). */
  pairingCode(role: string, person?: string): Promise<PairingCode>;
  /** Asks the farm's computer something small; a body makes it a POST. */
  ask(path: string, body?: object): Promise<Record<string, unknown>>;
  /** Another person stands at this device; with a pass it has that person's rights for minutes. */
  stand(person: string, entered?: Entered): Promise<void>;
  /** Forgets the farm's key; refused while records are unsent. */
  signOut(): Promise<void>;
  /** Sends a piece of a photograph (base64; '' only asks); says how much of it is there. */
  photoPart(piece: { sha256: string; bytes: number; offset: number; data: string }): Promise<{ have: number; whole: boolean }>;
  /** Which photographs the farm's computer lacks, and which lie in a backup that counts. */
  photosStanding(sha256: string[]): Promise<{ missing: string[]; safe: string[] }>;
  /** A photograph that this device does not hold. */
  photo(sha256: string): Promise<Blob>;
  /** The steps that let a phone in, on paper, as a PDF (owner, manager). */
  pairingSheet(): Promise<Blob>;
  /** How the farm's computer does (owner, manager). */
  health(): Promise<Health>;
  /** What the scale on the farm's computer has said after line `after` (-1: only where it stands). */
  scale(after: number): Promise<ScaleLines>;
  /** Records into a file and out of one, backups, restores: fetched when asked for. */
  desk(): Promise<DeskWork>;
  version: string;
}

export type { Signal };
