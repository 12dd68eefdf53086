/** What the contract tests ask of the stored rows: pulled page by page they are one fold of the whole log. Not part of the app. */
import { putSummaries } from './archive';
import { canonical, type Sent } from './contract';
import { View, type Cursor } from './db';
import { isBatch } from './findrow';
import { FARM, Farm, LOOSE } from './fold';
import { lineOf, NotARecord, type Line } from './line';
import { codesOf, isBirth, labelsOf } from './lines';
import { Live } from './live';
import { lineOfPulled, Puller, type Bring, type Pulled } from './pull';
import { stored } from './rowtext';
import { mayRest, summaryRow } from './scope';

export interface PullJob {
  epochs: string[];
  sent: Sent[];
  /** Records a page. */
  page: number;
  name: string;
  /** Archives batches between pages, whether they rest or not: what they lack is fetched when a page touches them. */
  archive?: boolean;
}

/** Says what differs, "" when nothing does. */
export async function pullLog(job: PullJob): Promise<string> {
  const records = job.sent.filter(([, receipt]) => receipt)
    .map(([text, receipt, pos]): Pulled => [text, '', JSON.stringify(receipt), '', pos]);
  const lines = records.map(lineOfPulled);
  const whole = new Farm();
  whole.index.epochs = job.epochs;
  lines.forEach((line) => whole.add(line));

  const view = new View(job.name);
  try {
    const bring = bringFrom(whole, records);
    let puller = new Puller(view, bring);
    let cursor: Cursor = { epoch: 'e', pos: 0, h: '', epochs: job.epochs };
    await view.replace({ rows: [], gone: [], lines: [] }, cursor);
    for (let i = 0; i < records.length; i += job.page) {
      const to = { ...cursor, pos: Math.min(records.length, i + job.page) };
      // Every second page starts without the rows of the last in memory, as after a restart.
      if ((i / job.page) % 2) puller = new Puller(view, bring);
      if (!(await puller.page(records.slice(i, i + job.page), cursor, to))) return 'a page was refused';
      cursor = to;
      if (job.archive && (i / job.page) % 3 === 1) {
        puller.forget();
        await archiveSome(view, cursor, i);
      }
    }
    const short = (await view.finds()).filter((find) => find.archived).map(({ unit }) => unit);
    if (short.length && !(await new Puller(view, bring).revive(short, cursor))) return 'what was archived did not come back';
    const rows = await view.rows((await view.finds()).map(({ unit }) => unit));
    const pulled = differences(whole, new Map(rows.map((row) => [row.unit, row])), 'pulled');
    return pulled || await onTop(job, lines, view);
  } finally {
    await view.close();
    indexedDB.deleteDatabase(job.name);
  }
}

/** Archives every other batch by its summary; one that lives on is never taken for one that rests. */
export async function archiveSome(view: View, at: Cursor, turn: number): Promise<void> {
  const units = (await view.finds()).filter(({ unit, archived }) => isBatch(unit) && !archived).map(({ unit }) => unit);
  const rows = await view.rows(units.filter((_, i) => (i + turn) % 2 === 0));
  const summaries = rows.map((row) => ({ ...stored(summaryRow(row)), ...(mayRest(row) ? {} : { archived: Number.MAX_SAFE_INTEGER }) }));
  if (!(await putSummaries(view, summaries, at))) throw new Error('it was not archived');
}

/** The farm's computer, which is at the end of the log while the pages lie far behind: lines_behind of scope.py. */
function bringFrom(whole: Farm, records: Pulled[]): Bring {
  const placed = new Map<string, number>(); // the cursor counts records
  records.forEach(([, , receipt], i) => {
    const { id } = JSON.parse(receipt) as { id: string };
    if (!placed.has(id)) placed.set(id, i + 1);
  });
  const { index } = whole;
  const births = (code: string): string[] => index.allClaimants(code).map((id) => index.get(id).s[0] as string);
  return {
    leads: (ids) => Promise.resolve(ids.flatMap((id) => index.kin(id)).flatMap((id) => codesOf(index.get(id)))
      .flatMap((code) => [code, ...births(code)]).map((code) => whole.home(code)).filter((home) => home !== null)),
    lines: (units, at) => Promise.resolve(new Map(units.map((unit) => {
      const found = new Set<string>();
      const todo = whole.row(unit).lines.map(({ id }) => id);
      for (let id = todo.pop(); id !== undefined; id = todo.pop()) {
        if (found.has(id)) continue;
        found.add(id);
        todo.push(...index.kin(id));
        const line = index.get(id);
        if (!isBirth(line)) continue;
        const labels = labelsOf(line);
        for (const code of [...labels, `g-${id}`, ...labels.map((_, i) => `g-${id}.${i}`)]) todo.push(...index.allNaming(code), ...index.allClaimants(code));
      }
      return [unit, [...found].map((id) => index.get(id)).filter(({ id }) => (placed.get(id) ?? Infinity) <= at.pos)];
    }))),
  };
}

/** Own unsent records on top of the stored rows, each unit read only when it is asked for. */
async function onTop(job: PullJob, lines: Line[], view: View): Promise<string> {
  const unsent = job.sent.filter(([, receipt]) => !receipt).flatMap(([text, , , role]) => {
    try {
      return [lineOf(text, null, 0, role)];
    } catch (error) {
      if (error instanceof NotARecord) return [];
      throw error;
    }
  });
  const whole = new Farm();
  whole.index.epochs = job.epochs;
  [...lines, ...unsent].forEach((line) => whole.add(line));
  const half = unsent.length >> 1;
  const live = await Live.build(view, job.epochs, unsent.slice(0, half));
  live.rowsOnTop();
  await live.add(unsent.slice(half));
  const rows = new Map<string, unknown>();
  for (const unit of whole.units()) {
    if (unit !== FARM && unit !== LOOSE) await live.ask([unit]);
  }
  live.rowsOnTop();
  for (const unit of whole.units()) rows.set(unit, live.farm.row(unit));
  return differences(whole, rows, 'on top');
}

function differences(whole: Farm, rows: ReadonlyMap<string, unknown>, what: string): string {
  const expected = whole.rows();
  for (const row of expected) {
    const [left, right] = [canonical(row), canonical(rows.get(row.unit) ?? null)];
    if (left === right || (row.unit === FARM && !row.lines.length)) continue; // nothing named it yet
    for (const key of Object.keys(row).reverse()) {
      const [a, b] = [canonical(row[key]), canonical((rows.get(row.unit) as Record<string, unknown> | undefined)?.[key] ?? null)];
      if (a === b) continue;
      const [mine, theirs] = [itemsOf(row[key]), itemsOf((rows.get(row.unit) as Record<string, unknown> | undefined)?.[key])];
      const only = [...mine].filter((item) => !theirs.has(item)).map((item) => `- ${item}`)
        .concat([...theirs].filter((item) => !mine.has(item)).map((item) => `+ ${item}`));
      return `${what}: ${row.unit}/${key}: ${only.map((item) => item.slice(0, 400)).join('\n')}`;
    }
  }
  const more = [...rows.keys()].filter((unit) => !expected.some((row) => row.unit === unit));
  return more.length ? `${what}: too many units: ${more.join(' ')}` : '';
}

/** The items of a list or an object, each as canonical JSON. */
function itemsOf(value: unknown): Set<string> {
  if (Array.isArray(value)) return new Set(value.map(canonical));
  return new Set(Object.entries((value ?? {}) as object).map(([key, one]) => `${key}: ${canonical(one)}`));
}
