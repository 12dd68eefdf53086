/**
 * What a table says of usual ingredients, where the farm measured nothing itself. Moisture and contents in
 * 0.01 %, [lowest, likely, highest]; bulk density g/L; swell 0.01. Each row carries the grade of its source:
 * table (read in a published table) or memory.
 */
import { plain } from '../trade/carbide';
import type { Range } from '../trade/carbon';

export interface TableRow {
  words: string[];
  moisture: number;
  c: Range;
  n: Range;
  bulk_g_l?: number;
  swell?: number;
  wood?: boolean;
  grade: 'table' | 'memory';
}

// Wood: C and N of J. Wood Sci. 2020 (10.1186/s10086-020-01935-7, Table 3); range of N: NRAES-54 1992, from
// memory. Pellets: IMSBC schedule. Straw: C:N Golueke 1972; density Lam et al. Grains and bran: from memory.
const WOOD = { c: [4_800, 4_879, 5_000] as Range, n: [6, 16, 80] as Range, wood: true };
const TABLE: TableRow[] = [
  { words: ['pellet', 'pellets', 'bricks'], moisture: 800, ...WOOD, bulk_g_l: 650, swell: 300, grade: 'table' },
  { words: ['bran'], moisture: 1_200, c: [4_400, 4_500, 4_600], n: [220, 280, 300], bulk_g_l: 250, grade: 'memory' },
  { words: ['millet'], moisture: 1_150, c: [4_300, 4_400, 4_500], n: [180, 195, 210], bulk_g_l: 750, grade: 'memory' },
  { words: ['rye'], moisture: 1_250, c: [4_300, 4_400, 4_500], n: [150, 170, 190], bulk_g_l: 720, grade: 'memory' },
  { words: ['hulls'], moisture: 1_000, c: [4_200, 4_400, 4_500], n: [180, 200, 220], bulk_g_l: 190, grade: 'memory' },
  { words: ['cob', 'cobs'], moisture: 1_200, c: [4_500, 4_650, 4_800], n: [40, 60, 80], bulk_g_l: 330, grade: 'memory' },
  { words: ['straw'], moisture: 1_320, c: [4_500, 4_600, 4_700], n: [30, 40, 50], bulk_g_l: 60, grade: 'table' },
  { words: ['gypsum', 'chalk', 'limestone', 'carbonate'], moisture: 0, c: [0, 0, 0], n: [0, 0, 0], bulk_g_l: 1_000, grade: 'memory' },
  { words: ['sawdust', 'oak', 'beech', 'alder', 'poplar', 'wood', 'chips', 'shavings'], moisture: 1_000, ...WOOD, bulk_g_l: 210, grade: 'table' },
];

/** The row that a name's words point to, or null. */
export function tableRow(name: string): TableRow | null {
  const words = plain(name).split(' ');
  return TABLE.find((row) => row.words.some((word) => words.includes(word))) ?? null;
}
