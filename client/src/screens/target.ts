/** What an act is about: a bag, a group, a batch or a place, with the count it stands for now. */
import type { Draft, Part } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { useAnswer } from '../ui/load';
import { anyName, partName, placePath } from '../ui/names';

export interface Target {
  code: string;
  type: 'part' | 'batch' | 'place' | 'thing';
  name: string;
  /** Bags it stands for now. */
  n: number;
  part?: Part;
  batch?: string;
  /** Batches (with strains) a harvest of it would come from. */
  of: [string, string][];
}

/** Looks a code up as an act's target; null where this device knows nothing of it. */
export async function findTarget(code: string): Promise<Target | null> {
  const a = app();
  const { type } = await a.resolve(code);
  if (type === 'part') {
    const view = await a.part(code);
    if (!view) return null;
    return {
      code, type, name: `${partName(code, view.part)} · ${view.batch.name}`, n: view.part.n, part: view.part,
      batch: view.batch.code, of: [[view.batch.code, view.part.strain ?? '']],
    };
  }
  if (type === 'batch') {
    const view = await a.batch(code);
    if (!view) return null;
    const strains = new Set(Object.values(view.parts).filter((p) => !p.end && p.n > 0).map((p) => p.strain ?? ''));
    return {
      code, type, name: view.name, n: view.summary.all.live, batch: code,
      of: [...(strains.size ? strains : [''])].map((s) => [code, s]),
    };
  }
  if (type === 'place') {
    const view = await a.place(code);
    if (!view) return null;
    const pairs = new Map(view.standing.map((s) => [`${s.batch} ${s.strain ?? ''}`, [s.batch, s.strain ?? ''] as [string, string]]));
    return { code, type, name: placePath(code), n: view.standing.reduce((n, s) => n + s.n, 0), of: [...pairs.values()] };
  }
  return type === 'unknown' ? null : { code, type: 'thing', name: anyName(code), n: 0, of: [] };
}

export const useTarget = (code: string | undefined): Target | null | undefined =>
  useAnswer(() => (code ? findTarget(code) : Promise.resolve(null)), [code]);

export const isGroup = (target: Target): boolean =>
  target.type === 'part' && !target.code.startsWith('B') && target.n > 1;

/** An act on some bags of a group: the split and the act on its child, written together. */
export function draftsFor(target: Target, some: number | null, act: Omit<Draft, 'sub'>): Draft[] {
  if (some === null || !isGroup(target) || some >= target.n) return [{ ...act, sub: [target.code] }];
  return [{ ty: 'group.split', sub: [target.code], d: { n: some } }, { ...act, sub: ['g-@0'] }];
}

/** "12 bags of this group" for the sentence after saving. */
export const targetWords = (target: Target, some: number | null): string =>
  some !== null && isGroup(target) && some < target.n ? t('target.some', { n: some, name: target.name }) : target.name;
