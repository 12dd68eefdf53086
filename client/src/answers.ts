/**
 * The answers screens show, from a folded farm: a part with its history, a batch with its sums. Fetched after the
 * first screen.
 */
import type { BatchView, HistoryLine, Line, Part, PartView } from './app-types';
import type { Brief } from './findindex';
import type { Farm, Row, Unit } from './fold';
import type { Asked } from './findrow';
import type { Data, Line as FoldLine } from './line';
import { keyOf } from './order';
import { questionOf } from './question';
import { summary } from './rules';

/** A part, or null while nobody has born it. */
export function partView(farm: Farm, code: string, asks: Asked[]): PartView | null {
  const home = farm.home(code);
  const unit = home ? farm.unit(home) : null;
  const part = unit?.['parts'][code] as Data | undefined;
  if (!unit || !part) return null;
  const { mixed } = unit;
  return {
    code, part: { ...part, place: part['place'] ?? null } as unknown as Part,
    batch: {
      code: unit.unit, name: nameOf(unit),
      ...(mixed.was ? { mixed: mixed.was.ms } : {}), ...(mixed.recipe_name ? { recipe: mixed.recipe_name } : {}),
    },
    history: historyOf(farm, code),
    questions: asks.filter(({ sub }) => sub.includes(code)).map((ask) => questionOf(ask, unit.unit)),
  };
}

/** A batch, or null where nothing is known of it. */
export function batchView(farm: Farm, code: string): BatchView | null {
  if (!farm.index.allNaming(code).length) return null;
  const unit = farm.unit(code);
  const { mixed } = unit;
  const parts = Object.fromEntries(Object.entries(unit['parts'] as Record<string, Data>)
    .map(([one, part]) => [one, { ...part, place: part['place'] ?? null } as unknown as Part]));
  return {
    code, name: nameOf(unit), parts, summary: summary(unit),
    ...(unit['moisture'] === undefined ? {} : { moisture: unit['moisture'] }),
    ...(mixed.recipe_name ? { recipe: mixed.recipe_name } : {}), ...(mixed.was ? { mixed: mixed.was.ms } : {}),
  };
}

/** An archived batch by its summary; or null. */
export function archivedBatch([row]: Row[], briefs: readonly Brief[]): BatchView | null {
  if (!row) return null;
  const mixed: Data = row['mixed'];
  return {
    code: row.unit, name: nameOf(row), archived: true, summary: row['summary'],
    parts: Object.fromEntries(briefs.map((brief) => [brief.code, briefPart(brief)])),
    ...(row['moisture'] === undefined ? {} : { moisture: row['moisture'] }),
    ...(mixed.recipe_name ? { recipe: mixed.recipe_name } : {}), ...(mixed.was ? { mixed: mixed.was.ms } : {}),
  };
}

/** A part of an archived batch; or null. */
export function archivedPart(rows: Row[], brief: Brief | null): PartView | null {
  const batch = archivedBatch(rows, []);
  if (!batch || !brief) return null;
  const { code, name, mixed, recipe } = batch;
  return {
    code: brief.code, part: briefPart(brief), archived: true, history: [], questions: [],
    batch: { code, name, ...(mixed === undefined ? {} : { mixed }), ...(recipe === undefined ? {} : { recipe }) },
  };
}

/** A part as far as Find knows it; its end is where its stage would be. */
function briefPart({ code, num, stage, ended, strain, n, since, bad, load, next }: Brief): Part {
  return {
    n, born: n, id: code, stage: ended ? 'filled' : stage, since, next,
    ...(num ? { num } : {}), ...(strain ? { strain } : {}), ...(load ? { load } : {}),
    ...(ended ? { end: stage, ended: since } : {}), ...(bad ? { bad: { sign: '', t: since } } : {}),
  };
}

const nameOf = (unit: Unit | Row): string => (typeof unit['name'] === 'string' ? unit['name'] : unit.unit);

/** Newest first: the acts that reached a part, and those on it that were taken back. */
function historyOf(farm: Farm, code: string): HistoryLine[] {
  const path = farm.history(code);
  const reached = new Set(path.map(({ id }) => id));
  const gone = farm.index.allNaming(code).filter((id) => !reached.has(id) && farm.index.voided(id, code)).map((id) => farm.index.get(id));
  const all = [...path.map((line) => ({ line, voided: false })), ...gone.map((line) => ({ line, voided: true }))];
  all.sort((a, b) => (keyOf(a.line) < keyOf(b.line) ? 1 : -1));
  return all.map(({ line, voided }) => ({
    line: line as Line, ...(voided ? { voided } : {}), ...viaOf(line, code),
  }));
}

/** The code an act was said of, where that is not the part itself. */
function viaOf(line: FoldLine, code: string): { via?: string } {
  const first = line.s[0];
  return line.s.includes(code) || !first ? {} : { via: first };
}
