/** What is wrong with a file, or with leaving a farm while records wait, in words that no first screen needs. */
import { AppError } from '../app-types';
import { has, t } from '../i18n';
import type { Params } from '../i18n/message';
import { errorWords } from '../ui/act';

export function fileWords(error: unknown): { what: string; todo: string } {
  const id = error instanceof AppError ? `carry.${error.code}` : '';
  if (!(error instanceof AppError) || !has(id)) return errorWords(error);
  return { what: t(id, error.details as Params), todo: t(`${id}.todo`) };
}
