/** What the farm knows of its ingredients: lots in store, its own figures before the table's, recipes as rows. */
import { plain } from '../trade/carbide';
import type { Range } from '../trade/carbon';
import type { Basis } from '../trade/recipe';
import type { Ingredient, Lot } from '../trade/stock';
import { tableRow } from './mixtable';

/** What is typed of one ingredient: `amount` in 0.0001 % of the basis, or in g. */
export interface Row { name: string; amount: number | null; wood: boolean }
export type Said = 'percent' | 'grams';
export type Grade = 'measured' | 'supplier' | 'table' | 'memory';
/** A figure and where it comes from. */
export interface Known { value: number; grade: Grade }
type Stored = Record<string, unknown>;

const RANK: Record<Grade, number> = { measured: 3, supplier: 2, table: 1, memory: 0 };
const isGrade = (x: unknown): x is Grade => typeof x === 'string' && Object.hasOwn(RANK, x);

const called = (materials: Record<string, Stored>, name: string): [string, Stored][] =>
  Object.entries(materials).filter(([, m]) => plain(String(m['name'] ?? '')) === plain(name));

/** Where a lot's figure comes from. A drying test measures the moisture, whatever was said of the rest. */
function gradeOf(lot: Stored, field: string): Grade {
  if (field === 'moisture' && lot['method']) return 'measured';
  return isGrade(lot['grade']) ? lot['grade'] : 'supplier';
}

/** The best that is known of a field: what was measured here first, the newest of equals; else the table's; or null. */
export function known(materials: Record<string, Stored>, name: string, field: 'moisture' | 'c' | 'n' | 'bulk_g_l' | 'swell'): Known | null {
  const own = called(materials, name).filter(([, m]) => typeof m[field] === 'number')
    .map(([, m]) => ({ value: Number(m[field]), grade: gradeOf(m, field), made: Number(m['made'] ?? 0) }))
    .sort((a, b) => RANK[b.grade] - RANK[a.grade] || b.made - a.made)[0];
  if (own) return { value: own.value, grade: own.grade };
  const row = tableRow(name);
  const value = row && (field === 'c' || field === 'n' ? row[field][1] : row[field]);
  return row && value !== undefined && value !== null ? { value, grade: row.grade } : null;
}

/** C and N with their range: the farm's own figure has none. Null where either is not known. */
export function contents(materials: Record<string, Stored>, name: string): { c: Range; n: Range; grade: Grade } | null {
  const [c, n] = [known(materials, name, 'c'), known(materials, name, 'n')];
  if (!c || !n) return null;
  const table = tableRow(name);
  const own = (field: 'c' | 'n'): boolean => called(materials, name).some(([, m]) => typeof m[field] === 'number');
  return {
    c: own('c') || !table ? [c.value, c.value, c.value] : table.c,
    n: own('n') || !table ? [n.value, n.value, n.value] : table.n,
    grade: RANK[c.grade] < RANK[n.grade] ? c.grade : n.grade,
  };
}

/** Lots of a name that hold something, oldest first; null where its store is not kept. */
export function lotsOf(materials: Record<string, Stored>, name: string): Lot[] | null {
  const own = called(materials, name).filter(([, m]) => typeof m['left_g'] === 'number')
    .sort((a, b) => Number(a[1]['made']) - Number(b[1]['made']));
  if (!own.length) return null;
  return own.filter(([, m]) => Number(m['left_g']) > 0).map(([code, m]) => ({
    code, mass_g: Number(m['left_g']), moisture: Number(m['moisture'] ?? known(materials, name, 'moisture')?.value ?? 0),
    price_minor: typeof m['price_minor'] === 'number' ? m['price_minor'] : null, price_g: Number(m['price_g'] ?? m['mass_g'] ?? 1_000),
  }));
}

/** An ingredient for the sums, with all that is known of it. */
export function ingredient(materials: Record<string, Stored>, row: Row): Ingredient {
  return {
    name: row.name.trim(), amount: row.amount ?? 0, wood: row.wood,
    moisture: known(materials, row.name, 'moisture')?.value ?? 0, lots: lotsOf(materials, row.name),
    bulk_g_l: known(materials, row.name, 'bulk_g_l')?.value ?? null, swell: known(materials, row.name, 'swell')?.value ?? 100,
  };
}

/** What an ingredient of a plan is known by: allergens, an organic certificate, whether its wood is declared untreated. */
export function declared(materials: Record<string, Stored>, name: string, lots: readonly string[] = []): { allergens: string; untreated: boolean; organic: string } {
  const own = called(materials, name).filter(([code]) => !lots.length || lots.includes(code)).map(([, m]) => m);
  const texts = (field: string): string => [...new Set(own.map((m) => String(m[field] ?? '')).filter(Boolean))].join(', ');
  return { allergens: texts('allergens'), organic: texts('organic'), untreated: own.length > 0 && own.every((m) => m['untreated'] === true) };
}

/** A recipe as it was written: its rows, basis, and whether in per cent or grams. */
export function rowsOf(recipe: Stored): { rows: Row[]; basis: Basis; said: Said } {
  const amounts = recipe['amounts'] as { name: string; amount: number; wood?: boolean }[] | undefined;
  if (amounts?.length) {
    return {
      rows: amounts.map((a) => ({ name: a.name, amount: a.amount, wood: a.wood ?? tableRow(a.name)?.wood ?? false })),
      basis: (recipe['basis'] as Basis | undefined) ?? 'of_total_dry', said: recipe['said'] === 'grams' ? 'grams' : 'percent',
    };
  }
  const parts = (recipe['parts'] ?? []) as { name: string; share: number }[];
  return { rows: parts.map((p) => ({ name: p.name, amount: p.share * 100, wood: tableRow(p.name)?.wood ?? false })), basis: 'of_total_dry', said: 'percent' };
}
