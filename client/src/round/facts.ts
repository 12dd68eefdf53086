/** What a round has to know of a scanned code, asked of the app in memory where that is enough: a scan costs no time. */
import type { App, Part } from '../app-types';
import { typeOf } from '../ids';
import type { Fact } from './state';

type Asked = Pick<App, 'resolve' | 'part' | 'batch' | 'place' | 'newName' | 'ref'>;

/** Names as people know them; given in, so that this file knows no screen. */
export interface Names {
  any(code: string): string;
  part(code: string, part: Part, batch: string): string;
  /** The number that the next label of a batch gets from this phone. */
  next(parts: Record<string, Part>): string;
}

const live = (parts: Record<string, Part>): [string, Part][] => Object.entries(parts).filter(([, p]) => !p.end && p.n > 0);
const unlabelled = (parts: [string, Part][]): { code: string; n: number }[] =>
  parts.filter(([code]) => !code.startsWith('B')).map(([code, p]) => ({ code, n: p.n })).sort((a, b) => b.n - a.n);

/** Never throws for a code: what nothing is known of is `unknown`. */
export async function factOf(code: string, app: Asked, names: Names): Promise<Fact> {
  const { type } = await app.resolve(code);
  if (type === 'part') {
    const view = await app.part(code);
    if (!view) return { code, type: 'unknown', name: names.any(code), n: 0 };
    const { part, batch } = view;
    const group = typeOf(code) === 'G' && !part.end;
    const first = group ? names.next((await app.batch(batch.code))?.parts ?? {}) : undefined;
    return {
      code, type, name: names.part(code, part, batch.name), n: part.n, ended: part.end, spawned: part.spawn !== undefined || part.strain !== undefined && part.stage !== 'filled',
      gate: part.gate, load: part.load, asked: part.load !== undefined && app.ref.value.loads[part.load]?.['asked'] === true, bad: part.bad !== undefined, of: [[batch.code, part.strain ?? '']], next: part.next ?? Math.max(1, part.flush ?? 1), first,
    };
  }
  if (type === 'batch') {
    const view = await app.batch(code);
    const parts = live(view?.parts ?? {});
    const strains = [...new Set(parts.map(([, p]) => p.strain ?? ''))];
    return {
      code, type, name: view?.name ?? names.any(code), n: parts.reduce((n, [, p]) => n + p.n, 0), groups: unlabelled(parts), first: names.next(view?.parts ?? {}),
      of: (strains.length ? strains : ['']).map((strain) => [code, strain]), next: Math.max(1, ...parts.map(([, p]) => p.next ?? p.flush ?? 1)),
    };
  }
  if (type === 'place') {
    const view = await app.place(code);
    const standing = view?.standing ?? [];
    const of = new Map(standing.map((s) => [`${s.batch} ${s.strain ?? ''}`, [s.batch, s.strain ?? ''] as [string, string]]));
    const groups = standing.flatMap((s) => s.codes.filter((c) => !c.startsWith('B')).map((c) => ({ code: c, n: s.n })));
    return { code, type, name: names.any(code), n: standing.reduce((n, s) => n + s.n, 0), of: [...of.values()], groups, codes: standing.flatMap((s) => s.codes) };
  }
  // A blank batch tag becomes a mix, whose name is made here and now.
  if (type === 'unknown' && typeOf(code) === 'M') return { code, type, name: app.newName(), n: 0 };
  return { code, type: type === 'command' ? 'unknown' : type, name: names.any(code), n: 0 };
}
