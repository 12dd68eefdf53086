/** From what a screen wants written to records that the catalogue takes, before anything is stored. */
import type { Draft } from './app-types';
import { AppError } from './app-types';
import { fieldOf, KINDS } from './catalogue';
import { check } from './check';
import type { Data } from './line';
import type { Ready } from './outbox';

const WORDS = ['strain', 'material', 'recipe', 'plan', 'vessel'];

/**
 * Fills in the shorthands (see `Draft`), puts a stated time where the kind takes it, and holds each record
 * against its schema. Throws AppError "schema" with {ty, field}; nothing was written then.
 */
export function readyFrom(drafts: Draft[], newId: () => string): Ready[] {
  const ids = drafts.map(newId);
  return drafts.map((draft, i) => {
    const kind = KINDS.get(draft.ty);
    if (!kind) throw wrong(draft, 'ty');
    const fill = (code: string): string => {
      if (WORDS.includes(code)) return `${code}-${ids[i]}`;
      const other = /^g-@(\d+)$/.exec(code);
      return other ? `g-${ids[Number(other[1])] ?? ''}` : code;
    };
    const d: Data = { ...draft.d };
    // Kinds that are ordered by the clock take a stated time for display only.
    if (draft.on && !kind.timed && fieldOf(kind, 'was') && !('was' in d)) d['was'] = { ms: draft.on.ms, p: draft.on.p };
    const sub = draft.sub.map(fill);
    const why = check(draft.ty, kind.version, sub, d);
    if (why) throw wrong(draft, why.replace(/^field:/, ''));
    return {
      id: ids[i] as string, ty: draft.ty, tv: kind.version, sub, d,
      ...(draft.on && kind.timed ? { on: { ms: draft.on.ms, p: draft.on.p } } : {}),
      ...(draft.except?.length ? { except: draft.except.map(fill) } : {}),
      ...(draft.rnd ? { rnd: draft.rnd } : {}),
    };
  });
}

function wrong(draft: Draft, field: string): AppError {
  return new AppError('schema', `${draft.ty}: ${field} does not fit.`, 'Check the form and try again.', { ty: draft.ty, field });
}
