/** What the contract tests ask of the client and a real server together: two phones work, sync and agree. Not part of the app. */
import { createApp, type Core } from './app';
import type { Draft } from './app-types';
import { canonical } from './contract';
import { archiveSome } from './contract-pull';
import { View, type Cursor } from './db';
import { Outbox } from './outbox';

export interface ServerJob {
  url: string;
  /** One-time codes of the owner's and a worker's phone. */
  codes: [string, string];
  rounds: number;
  seed: number;
  /** Each phone keeps summaries of some batches after each round; they come back when touched, and all at the end. */
  archive?: boolean;
  /** Addresses asked for after each round, "" for none: what the test does to the server meanwhile. */
  steps?: string[];
}

/** Both phones' rows, and the records they wrote; the test holds them against the server's own rows. */
export async function workTogether(job: ServerJob): Promise<string> {
  const phones = await Promise.all(job.codes.map(async (code, i) => {
    const view = new View(`server-${job.seed}-${i}-view`);
    const outbox = new Outbox(`server-${job.seed}-${i}-outbox`);
    const app = createApp({
      fetch: (url, init) => fetch(job.url + url, init), outbox, view, others: `server-${job.seed}-${i}-others`, quiet: true,
    });
    await app.start();
    await app.pair(code, `Phone ${i}`);
    await app.sync.run();
    return { app, view, outbox };
  }));
  const random = mulberry(job.seed);
  for (let round = 0; round < job.rounds; round += 1) {
    // Each works for a while without having seen the other.
    for (const { app } of phones) await day(app, random);
    for (const { app } of phones) await settle(app);
    if (job.archive) for (const { view } of phones) await archiveSome(view, (await view.cursor()) as Cursor, round);
    const step = job.steps?.[round];
    if (step) await fetch(job.url + step);
  }
  for (const { app } of phones) await settle(app);
  for (const { app } of phones) await settle(app);
  let revived = 0;
  for (const { app, view } of phones) {
    const short = (await view.finds()).filter((find) => find.archived);
    revived += short.length;
    short.forEach(({ unit }) => app.sync.want(unit));
    await settle(app);
  }
  const rows = await Promise.all(phones.map(async ({ view }) => canonical(
    (await view.rows((await view.finds()).map(({ unit }) => unit))).sort((a, b) => (a.unit < b.unit ? -1 : 1)),
  )));
  const written = (await Promise.all(phones.map(({ outbox }) => outbox.newest(100_000)))).flat().map(({ id }) => id).sort();
  const out = { written, rows, revived, unsent: phones.map(({ app }) => app.unsent.value.count), links: phones.map(({ app }) => app.link.value) };
  for (const { app } of phones) await app.stop();
  return JSON.stringify(out);
}

/** Syncs until there is nothing left to do, whatever it was told before to wait for. */
async function settle(app: Core): Promise<void> {
  app.sync.now();
  await app.sync.run();
}

/** A day in the shed, by what the phone knows. */
async function day(app: Core, random: () => number): Promise<void> {
  const pick = <T>(some: readonly T[]): T | undefined => some[Math.floor(random() * some.length)];
  const write = async (...drafts: Draft[]): Promise<void> => { await app.write(drafts); };
  if (!Object.keys(app.ref.value.places).length) {
    const room = app.newCode('P');
    await write({ ty: 'place.named', sub: [room], d: { name: 'Room', type: 'room' } });
    await write({ ty: 'place.named', sub: [app.newCode('P')], d: { name: 'Trolley', type: 'trolley', within: room } });
  }
  const batch = app.newCode('M');
  await write({ ty: 'batch.mixed', sub: [batch], d: { name: app.newName(), moisture: 6_000 } });
  const labels = [app.newCode('B'), app.newCode('B')];
  await write({ ty: 'bag.filled', sub: [batch], d: { n: 60, fill_g: 2_400, to: labels } });
  for (let i = 0; i < 6; i += 1) {
    await app.batch(batch);
    const places = Object.keys(app.ref.value.places);
    const found = pick(app.find({}));
    const code = found && pick(found.codes);
    const place = pick(places);
    if (!code || !place) continue;
    const act = Math.floor(random() * 7);
    if (act === 0) await write({ ty: 'bag.moved', sub: [code], d: { to: place } });
    if (act === 1) await write({ ty: 'bag.moved', sub: [place], d: { to: pick(places) } });
    if (act === 2) await write({ ty: 'bag.contaminated', sub: [code], d: { sign: 'cobweb', where: 'top', kept: 'thrown_out' } });
    if (act === 3) await write({ ty: 'bag.harvested', sub: [code], d: { g: 400, of: [[found.batch, found.strain ?? '']], flush: 1 } });
    if (act === 4 && !code.startsWith('B')) {
      await write({ ty: 'group.split', sub: [code], d: { n: 2 } }, { ty: 'bag.opened', sub: ['g-@0'], d: { how: 'slit' }, on: { ms: Date.now() - 3_600_000, p: 'm' } });
    }
    if (act === 5) await write({ ty: 'place.moved', sub: [place], d: { to: pick(places) } });
    if (act === 6) await app.undo();
  }
}

/** A small generator with a seed: the same day every time. */
function mulberry(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}
