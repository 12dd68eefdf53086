/** The farm's places as a picture needs them: rooms, what stands in each, and what lives on it. Pure. */
import type { Found, RefRow } from '../app-types';

export interface Spot {
  code: string;
  type: string;
  /** Bags by stage, in the order given; bad ones are their own stage. */
  stages: [string, number][];
  n: number;
  holds?: number;
  /** Bags of the wanted batch. */
  wanted: number;
  inside: Spot[];
}

/** The stage under which contaminated bags that still stand there are drawn. */
export const BAD = 'bad';

/** Rooms first named by their names; places in no room, or in a ring, stand in a last room without a code. */
export function rooms(places: Record<string, RefRow>, found: Found[], order: readonly string[], batch: string | null): Spot[] {
  const at = new Map<string, Found[]>();
  for (const row of found) if (row.place) at.set(row.place, [...(at.get(row.place) ?? []), row]);
  const drawn = new Set<string>();
  const within = (code: string): string => {
    const up: unknown = places[code]?.['within'];
    return typeof up === 'string' && up in places ? up : '';
  };
  const nameOf = (code: string): string => String(places[code]?.name ?? code);
  const byName = (a: string, b: string): number => nameOf(a).localeCompare(nameOf(b), undefined, { numeric: true });
  const spot = (code: string): Spot => {
    drawn.add(code);
    const rows = at.get(code) ?? [];
    const counts = new Map<string, number>();
    for (const row of rows) counts.set(row.bad ? BAD : row.stage, (counts.get(row.bad ? BAD : row.stage) ?? 0) + row.n);
    const ranked = [...order, BAD];
    const stages = [...counts].filter(([, n]) => n > 0).sort(([a], [b]) => ranked.indexOf(a) - ranked.indexOf(b));
    const holds = places[code]?.['holds'];
    const children = Object.keys(places).filter((c) => within(c) === code && !drawn.has(c)).sort(byName);
    return {
      code, type: String(places[code]?.['type'] ?? 'shelf'), stages, n: stages.reduce((sum, [, n]) => sum + n, 0),
      wanted: rows.filter((row) => row.batch === batch).reduce((sum, row) => sum + row.n, 0),
      inside: children.map(spot), ...(typeof holds === 'number' ? { holds } : {}),
    };
  };
  const made = Object.keys(places).filter((c) => !within(c) && ['room', 'cold_store'].includes(String(places[c]?.['type']))).sort(byName).map(spot);
  const rest = Object.keys(places).filter((c) => !within(c) && !drawn.has(c)).sort(byName).map(spot);
  // Two places said to stand in each other are nowhere: they are still drawn.
  const ring = Object.keys(places).filter((c) => !drawn.has(c)).sort(byName).map((c) => (drawn.has(c) ? null : spot(c))).filter((s): s is Spot => s !== null);
  const loose = [...rest, ...ring];
  return loose.length ? [...made, { code: '', type: 'room', stages: [], n: 0, wanted: 0, inside: loose }] : made;
}

/** How many bags one drawn bag stands for, so that at most `most` are drawn. */
export const each = (n: number, most: number): number => Math.max(1, Math.ceil(n / most));

export const allWanted = (spot: Spot): number => spot.wanted + spot.inside.reduce((sum, s) => sum + allWanted(s), 0);
