/**
 * A stand-in App for looking at screens and for tests of screens: an invented farm held in memory, with just
 * enough effect to walk through an act. Never imported by client/src; the real fold is tested elsewhere.
 */
import { signal } from '@preact/signals';
import type { App, BatchView, Device, Draft, Found, Held, Line, LinkState, Part, PartView, PlaceView, Question, Ref, Sums } from '../../../client/src/app-types';
import { checkSymbol } from '../../../client/src/ids';

export const code = (seven: string): string => seven + checkSymbol(seven);
const DAY = 86_400_000;
const T = Date.now();
const STRAIN = 'strain-00000000-0000-7000-8000-000000000001';
const STRAIN2 = 'strain-00000000-0000-7000-8000-000000000002';
const RECIPE = 'recipe-00000000-0000-7000-8000-000000000003';

export const P = { room1: code('P0000001'), rack: code('P0000002'), shelf: code('P0000003'), shelf2: code('P0000004'), trolley: code('P0000005'), cold: code('P0000006'), fruit: code('P0000007') };
export const M = { a: code('M000000A'), b: code('M000000B'), old: code('M000000C') };
export const S = { a: code('S0000001') };
export const GROUP = code('G0000001');
export const bagCode = (i: number): string => code(`B00000${String(i).padStart(2, '0')}`);
const ME = code('W0000001');

export interface Fake extends App {
  log: Line[];
  batches: Record<string, BatchView>;
}

const blank = (): Sums => ({ bags: 0, live: 0, spawned: 0, stages: {}, places: {}, bad: 0, odd: 0, ends: {}, flushes: {}, g: 0 });

function sum(parts: Part[], picks: Record<string, number>): Sums {
  const s = blank();
  for (const p of parts) {
    s.bags += p.n;
    if (p.bad) s.bad += p.n;
    if (p.end) s.ends[p.end] = (s.ends[p.end] ?? 0) + p.n;
    else {
      s.live += p.n;
      s.stages[p.stage] = (s.stages[p.stage] ?? 0) + p.n;
      s.places[p.place ?? ''] = (s.places[p.place ?? ''] ?? 0) + p.n;
    }
    if (p.strain) s.spawned += p.n;
  }
  s.flushes = picks;
  s.g = Object.values(picks).reduce((a, b) => a + b, 0);
  s.dry_g = s.spawned * 960;
  if (s.dry_g > 0) s.be = Math.round((s.g * 10_000) / s.dry_g);
  return s;
}

function demo(): Record<string, BatchView> {
  const parts: Record<string, Part> = {};
  for (let i = 1; i <= 40; i += 1) {
    const fruiting = i <= 12;
    parts[bagCode(i)] = {
      n: 1, born: 1, id: `r${i}`, num: `A${i}`, stage: fruiting ? 'fruiting' : i <= 25 ? 'colonised' : 'spawn_run', since: T - (fruiting ? 6 : 9) * DAY,
      place: fruiting ? P.fruit : i <= 30 ? P.shelf : P.trolley, strain: i % 5 === 0 ? STRAIN2 : STRAIN, spawn: S.a, fill_g: 2400, gate: 'passed', last: T - DAY,
      ...(fruiting ? { flush: 1, next: 1, g: 180 + i * 11, inferred: ['colonised'] } : {}),
      ...(i === 26 ? { bad: { sign: 'green_mould', where: 'top', kept: 'kept_apart', t: T - DAY } } : {}),
      ...(i === 27 ? { bad: { sign: 'orange_mould', where: 'seam', kept: 'thrown_out', t: T - DAY }, end: 'dumped', ended: T - DAY, place: null } : {}),
    };
  }
  const b: Record<string, Part> = { [GROUP]: { n: 60, born: 60, id: 'r60', stage: 'filled', since: T - 2 * DAY, place: P.trolley, fill_g: 2400 } };
  const old: Record<string, Part> = { 'g-00000000-0000-7000-8000-0000000000aa': { n: 743, born: 800, id: 'raa', stage: 'spawn_run', since: T - 15 * DAY, place: P.shelf2, strain: STRAIN2 } };
  const made = (c: string, name: string, ps: Record<string, Part>, picks: Record<string, number>, age: number): BatchView => {
    const list = Object.values(ps);
    const strains: Record<string, Sums> = {};
    for (const st of new Set(list.map((p) => p.strain ?? ''))) strains[st] = sum(list.filter((p) => (p.strain ?? '') === st), st === STRAIN ? picks : {});
    return { code: c, name, parts: ps, summary: { all: sum(list, picks), strains, shared: [] }, moisture: 6000, recipe: 'Oak 80/18', mixed: T - age * DAY };
  };
  return { [M.a]: made(M.a, '4 Nov A1', parts, { 1: 3018, 2: 1240 }, 21), [M.b]: made(M.b, '23 Nov A1', b, {}, 2), [M.old]: made(M.old, 'Before 10 Nov A1', old, {}, 15) };
}

/** A fake farm; `paired: false` gives the first run. */
export function fakeApp({ paired = true, unsent = 3, link = 'ok' as LinkState['state'], empty = false } = {}): Fake {
  const batches = empty ? {} : demo();
  const log: Line[] = [];
  const kept = new Map<string, unknown>();
  const changed = signal(0);
  const lastAct = signal<{ lines: Line[]; voided: boolean } | null>(null);
  const ref = signal<Ref>({
    plans: {}, vessels: {},
    places: empty ? {} : {
      [P.room1]: { name: 'Spawn run room', type: 'room' }, [P.rack]: { name: 'Rack 2', type: 'rack', within: P.room1 }, [P.shelf]: { name: 'Shelf 3', type: 'shelf', within: P.rack, holds: 40 },
      [P.shelf2]: { name: 'Shelf 4', type: 'shelf', within: P.rack }, [P.trolley]: { name: 'Trolley 1', type: 'trolley', within: P.room1 }, [P.cold]: { name: 'Cold store', type: 'cold_store' }, [P.fruit]: { name: 'Fruiting house', type: 'room' },
    },
    strains: empty ? {} : { [STRAIN]: { name: 'Fen 4', species: 'Lentinula edodes' }, [STRAIN2]: { name: 'رأس الأسد 2', species: 'Hericium erinaceus' } },
    materials: {}, recipes: empty ? {} : { [RECIPE]: { name: 'Oak 80/18', moisture: 6000, parts: [{ name: 'Oak sawdust', share: 8000 }, { name: 'Wheat bran', share: 1800 }, { name: 'Gypsum', share: 200 }] } },
    spawn: empty ? {} : { [S.a]: { strain: STRAIN, carrier: 'grain', made: T - 30 * DAY } }, loads: {}, people: { [ME]: { name: 'Mira 🍄', role: 'owner' } }, devices: {}, settings: { name: 'Alder Hollow', zone: 'Europe/London' },
  });
  const line = (k: string, s: string[], d: Record<string, unknown>, days: number, extra: Partial<Line> = {}): Line => ({ id: `l${log.length}`, k, t: T - days * DAY, e: T - days * DAY, by: ME, s, d, p: log.length + 1, ...extra });
  if (!empty) {
    log.push(line('batch.mixed', [M.a], { name: '4 Nov A1', moisture: 6000, recipe_name: 'Oak 80/18', wet_g: 96000 }, 21));
    log.push(line('bag.filled', [M.a], { n: 40, fill_g: 2400 }, 21));
    log.push(line('load.ran', [code('H0000001'), M.a], { result: 'passed', hold_min: 150, temp: 12110 }, 20));
    log.push(line('bag.inoculated', [M.a], { spawn: S.a }, 19));
    log.push(line('bag.opened', [bagCode(7)], { how: 'top_cut' }, 6, { o: 'd' }));
    log.push(line('bag.harvested', [bagCode(7)], { g: 257, of: [[M.a, STRAIN]], flush: 1, grade: 'first' }, 0, { p: 0 }));
    log.push(line('bag.moved', [bagCode(31)], { to: P.trolley }, 0, { p: 0 }));
  }
  const all = (): [string, BatchView, Part][] => Object.values(batches).flatMap((b) => Object.entries(b.parts).map(([c, p]) => [c, b, p] as [string, BatchView, Part]));
  const find = (q: Parameters<App['find']>[0]): Found[] => {
    const rows = new Map<string, Found>();
    const text = q.text?.trim().toLowerCase() ?? '';
    for (const [c, b, p] of all()) {
      const strain = String(ref.value.strains[p.strain ?? '']?.name ?? '').toLowerCase();
      const place = String(ref.value.places[p.place ?? '']?.name ?? '').toLowerCase();
      if (q.batch && b.code !== q.batch) continue;
      if (q.strain && p.strain !== q.strain) continue;
      if (q.place && p.place !== q.place) continue;
      if (q.stage && (p.end ?? p.stage) !== q.stage) continue;
      if (!q.stage && p.end) continue;
      if (q.bad && !p.bad) continue;
      if (q.minAgeDays && T - p.since < q.minAgeDays * DAY) continue;
      if (text && !b.name.toLowerCase().includes(text) && !strain.includes(text) && !place.includes(text) && c.toLowerCase() !== text && b.code.toLowerCase() !== text) continue;
      const key = [b.code, p.place, p.end ?? p.stage, p.strain, Boolean(p.bad)].join();
      const row = rows.get(key) ?? { batch: b.code, name: b.name, ...(p.strain ? { strain: p.strain } : {}), place: p.place ?? null, stage: p.end ?? p.stage, n: 0, codes: [], since: p.since, ...(p.bad ? { bad: true } : {}) };
      row.n += p.n;
      row.codes.push(c);
      rows.set(key, row);
    }
    return [...rows.values()];
  };
  const apply = (l: Line): void => {
    for (const c of l.s) {
      for (const [pc, b, p] of all()) {
        if (pc !== c) continue;
        if (l.k === 'bag.moved') p.place = String(l.d?.['to']);
        if (l.k === 'bag.contaminated') {
          p.bad = { ...(l.d as { sign: string }), t: l.t };
          if (l.d?.['kept'] === 'thrown_out') { p.end = 'dumped'; p.place = null; }
        }
        if (l.k === 'bag.harvested') { p.g = (p.g ?? 0) + Number(l.d?.['g']); p.flush = Number(l.d?.['flush']); }
        b.summary.all = sum(Object.values(b.parts), b.summary.all.flushes);
      }
    }
    if (l.k === 'place.named') ref.value = { ...ref.value, places: { ...ref.value.places, [l.s[0] ?? '']: l.d ?? {} } };
  };
  const questions = signal<Question[]>(empty ? [] : [
    { id: 'q1', rule: 'after_end', recs: ['l5', 'l6'], sub: [bagCode(27)], lines: [line('bag.finished', [bagCode(27)], { cause: 'dumped' }, 2), line('bag.harvested', [bagCode(27)], { g: 310, flush: 1 }, 1)], voids: [] },
    { id: 'q2', rule: 'two_places', recs: ['l5', 'l6'], sub: [bagCode(9)], lines: [line('bag.moved', [bagCode(9)], { to: P.shelf }, 1), line('bag.moved', [bagCode(9)], { to: P.fruit }, 0.2)], voids: [] },
  ]);
  let serial = 50;
  return {
    log, batches, version: '0.1.0', changed, lastAct, ref, questions,
    start: () => Promise.resolve(),
    device: signal<Device | null>(paired ? { dev: 'd0123456789abcdef', role: 'owner', by: ME, farm: 'f', tag: '7K3Q', name: 'Alder Hollow', zone: 'Europe/London', letter: 'A' } : null),
    pair: () => Promise.resolve(),
    ask: () => Promise.resolve({}), stand: () => Promise.resolve(), signOut: () => Promise.resolve(),
    write: (drafts: Draft[]) => {
      const lines = drafts.map((x) => line(x.ty, x.sub, x.d ?? {}, 0, { p: 0, t: x.on?.ms ?? Date.now(), e: Date.now() }));
      lines.forEach((l, i) => { l.id = `w${log.length + i}`; apply(l); });
      log.push(...lines);
      lastAct.value = { lines, voided: false };
      changed.value += 1;
      return Promise.resolve(lines);
    },
    newCode: (letter) => code(`${letter}${String((serial += 1)).padStart(7, '0')}`),
    newName: () => '25 Nov A2',
    undo: () => { if (lastAct.value) lastAct.value = { ...lastAct.value, voided: true }; return Promise.resolve(lastAct.value?.lines[0] ?? null); },
    unsent: signal({ count: unsent, oldest: unsent ? T - 47 * 60_000 : null }),
    link: signal<LinkState>({ state: link, heard: T - 3 * 60_000 }),
    part: (c): Promise<PartView | null> => {
      const found = all().find(([pc]) => pc === c);
      return Promise.resolve(found ? {
        code: c, part: { ...found[2] }, batch: { code: found[1].code, name: found[1].name, ...(found[1].mixed ? { mixed: found[1].mixed } : {}) },
        history: [...log].reverse().filter((l) => l.s.includes(c) || l.s.includes(found[1].code)).map((l) => ({ line: l, ...(l.s.includes(c) ? {} : { via: found[1].code }) })),
        questions: questions.value.filter((q) => q.sub.includes(c)),
      } : null);
    },
    batch: (c) => Promise.resolve(batches[c] ?? null),
    place: (c): Promise<PlaceView | null> => {
      const place = ref.value.places[c];
      if (!place) return Promise.resolve(null);
      return Promise.resolve({
        code: c, place,
        standing: find({ place: c }).map((f) => ({ ...f })),
        inside: Object.entries(ref.value.places).filter(([, p]) => p['within'] === c).map(([pc, p]) => ({ code: pc, place: p, n: find({ place: pc }).reduce((n, f) => n + f.n, 0) })),
      });
    },
    partLabel: (c) => { const f = all().find(([pc]) => pc === c); return f ? { batch: f[1].name, n: f[2].n, ...(f[2].num ? { num: f[2].num } : {}) } : null; },
    batchName: (c) => batches[c]?.name ?? null,
    find, indexReady: signal(true),
    resolve: (c) => {
      const types = { M: 'batch', P: 'place', S: 'spawn', H: 'load', K: 'crate', W: 'person', X: 'command' } as const;
      const letter = c[0] as keyof typeof types;
      if (all().some(([pc]) => pc === c)) return Promise.resolve({ type: 'part' as const, code: c });
      const known = batches[c] ?? ref.value.places[c] ?? ref.value.spawn[c] ?? ref.value.people[c];
      return Promise.resolve({ type: known && types[letter] ? types[letter] : letter === 'K' ? 'crate' as const : 'unknown' as const, code: c });
    },
    held: signal<Held[]>(empty ? [] : [{ id: 'h1', why: 'field:g', line: line('bag.harvested', [bagCode(3)], { flush: 1 }, 1) }]),
    briefs: (code) => all().filter(([pc]) => pc === code).map(([, { code: unit }, p]) => ({
      unit, code, num: p.num ?? '', stage: p.stage, ended: p.end !== undefined, place: p.place ?? '', strain: p.strain ?? '',
      n: p.n, since: p.since, next: p.next ?? 1, bad: p.bad !== undefined, load: p.load ?? '', gate: p.gate ?? '',
    })),
    store: { get: <T,>(name: string) => Promise.resolve(kept.get(name) as T | undefined), set: (name, value) => Promise.resolve(void kept.set(name, value)), newest: () => Promise.resolve([]) },
    records: (limit) => Promise.resolve([...log].reverse().slice(0, limit).map((l) => ({ line: l }))),
    labels: (_path, type) => Promise.resolve(new Blob(['%PDF-1.4'], { type })),
    paper: () => Promise.resolve(new Blob(['%PDF-'])),
    pairingCode: () => Promise.resolve({ code: 'ABCD2345', expires: Date.now() + 900_000, url: 'https://farm-7k3q.local:8443/#pair=ABCD2345',
      invitation: { url: 'http://192.168.1.50:8080/', qr: ['1010', '0110', '1111', '0000'], check: 'YE6S-V49P' } }),
    desk: () => Promise.resolve(deskOf() as never),
    health: () => Promise.resolve({
      ok: false, sentences: ['The server’s certificate ends in 20 days.'], version: '0.1.0', addresses: ['192.168.1.50'], durable: 40, head: 42,
      certificate: { origin: 'https://farm-7k3q.local:8443', days: 20, authority: { code: 'YE6S-V49P' } },
      phones: [{ dev: 'd1', name: 'Shed phone', state: 'paired', seen: Date.now() - 60_000, waiting: 3, app: '0.1.0', clock_ms: 0 }],
      backups: [{ name: 'b1', at: Date.now() - 3_600_000, pos: 40, fault: '', counts: true }],
      disk: { free: 40 * 2 ** 30, total: 100 * 2 ** 30 }, chain: { verified: 42, head: 42, broken: 0 },
    }),
    scale: () => Promise.resolve({ state: 'unset' as const, n: 0, lines: [] }),
    photoPart: ({ bytes }) => Promise.resolve({ have: bytes, whole: true }),
    photosStanding: () => Promise.resolve({ missing: [], safe: [] }),
    photo: () => Promise.resolve(new Blob([], { type: 'image/jpeg' })),
    pairingSheet: () => Promise.resolve(new Blob(['%PDF-1.4'], { type: 'application/pdf' })),
  };
}


/** What the desk's screens ask for: a farm that was put back, two phones back, one not heard from, one to confirm. */
function deskOf() {
  const at = T - 3_600_000;
  const device = { role: 'worker', person: ME, state: 'paired', made: T - 90 * DAY, seen: T, waiting: 0, oldest: 0, lost: 0 };
  const backup = { size: 4_000_000, verified: 1, fault: '', gone: 0, elsewhere: 1, away: 0, counts: true };
  const state = {
    epoch: '0002-aaaaaaaa', head: 1_200, durable: 940,
    put_back: { why: 'restored', at, pos: 900, back_to: at - 2 * 3_600_000, records: 213, phones: [['d1', 200], ['d2', 13]], unheard: ['d4'] },
    two_servers: null,
    devices: [
      { ...device, dev: 'd1', name: 'Phone 1', letter: 'A', role: 'owner' },
      { ...device, dev: 'd2', name: 'Phone 2', letter: 'B', state: 'unconfirmed' },
      { ...device, dev: 'd4', name: 'Phone 4', letter: 'D', seen: T - DAY, waiting: 3, lost: 3 },
    ],
    backups: [
      { ...backup, name: 'bagtrail-1.zip', at: T - 3_600_000, pos: 1_100 },
      { ...backup, name: 'bagtrail-2.zip', at: T - DAY, pos: 940, elsewhere: 0, counts: false },
      { ...backup, name: 'bagtrail-3.zip', at: T - 2 * DAY, pos: 900, fault: 'The chain breaks.', counts: false },
    ],
  };
  return {
    toFile: () => Promise.resolve({ file: new Blob(['{}']), name: 'bagtrail-FEN-A-20251125-0700.jsonl', waiting: 2, all: 9 }),
    fromFile: () => Promise.resolve({ fresh: 2, known: 0, torn: false }),
    leftFarms: () => Promise.resolve([]),
    fileStanding: () => Promise.resolve({ waiting: 0, arrived: 2, known: 0, held: 0, refused: 0 }),
    state: () => Promise.resolve(state),
    copiedAway: () => Promise.resolve(state),
    backUp: () => Promise.resolve(state),
    confirm: () => Promise.resolve(),
  };
}
