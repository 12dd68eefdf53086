/** Saving: every act goes through here, so each tells its end alike and no failure passes unsaid. */
import { signal } from '@preact/signals';
import { AppError, type Draft, type Line } from '../app-types';
import { has, t } from '../i18n';
import type { Params } from '../i18n/message';
import { app } from './app';
import { say } from './toast';
import { tell } from '../scan/feedback';

export const saving = signal(false);

/** What is wrong and what to do, for any error; ours by message id, a stranger's with its own words. */
export function errorWords(error: unknown): { what: string; todo: string } {
  if (error instanceof AppError) {
    const id = `error.${error.code}`;
    const params = error.details as Params;
    if (has(id)) return { what: t(id, params), todo: has(`${id}.todo`) ? t(`${id}.todo`, params) : error.todo };
    return { what: error.message, todo: error.todo };
  }
  return { what: t('error.unexpected', { why: error instanceof Error ? error.message : String(error) }), todo: t('error.unexpected.todo') };
}

/**
 * Writes the drafts as one act. Returns the lines, or null when nothing was written (and said so).
 * A second touch while the first is still writing is no second act, for gloves touch twice; it is told so
 * (`busy.ts` marks the button itself).
 */
export async function save(drafts: Draft[], said: string): Promise<Line[] | null> {
  if (saving.value) {
    say('ask', t('act.still'));
    return null;
  }
  saving.value = true;
  try {
    const lines = await app().write(drafts);
    tell('taken');
    say('ok', said);
    return lines;
  } catch (error) {
    const { what, todo } = errorWords(error);
    tell('wrong');
    say('bad', `${what} ${todo}`.trim());
    return null;
  } finally {
    saving.value = false;
  }
}

/** A fresh id for a row of scans with one purpose. */
export function newRound(): string {
  const b = crypto.getRandomValues(new Uint8Array(16));
  // Version 7 like every id of the log: the time first, so that rounds sort as they were begun.
  let ms = Date.now();
  for (let i = 5; i >= 0; i -= 1) {
    b[i] = ms % 256;
    ms = Math.floor(ms / 256);
  }
  b[6] = 0x70 | ((b[6] as number) & 0x0f);
  b[8] = 0x80 | ((b[8] as number) & 0x3f);
  const hex = [...b].map((x) => x.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
