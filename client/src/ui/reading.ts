/** The sentence for a reading that is no code of ours: what is wrong and what to do. */
import { complaint, type Reading } from '../scan/read';
import { t } from '../i18n';

export function sayReading(reading: Reading): string | null {
  const c = complaint(reading);
  return c && t(c.id, c.params);
}
