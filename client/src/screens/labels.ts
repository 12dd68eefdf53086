/** Codes for new labels, what stands on them, and the sheet they are printed on. */
import type { Label, Part } from '../app-types';
import { day } from '../i18n/format';
import { numberOf } from '../rules';
import { app } from '../ui/app';
import { onLabel } from '../labels/words';
import { strainName } from '../ui/names';

/** Codes in one record: 900 fit its 16 KiB with room for the rest (catalogue: bag.filled.to). */
export const MOST_LABELS = 900;

export const newCodes = (letter: string, n: number): string[] => {
  const made = new Set<string>();
  while (made.size < n) made.add(app().newCode(letter));
  return [...made];
};

/** The number after "A12" that this device may give next in a batch: its own letter, one above the highest. */
export function nextNumber(parts: Record<string, Part>, letter: string): string {
  let top = 0;
  for (const p of Object.values(parts)) {
    const found = /^([A-Z]+)(\d+)$/.exec(p.num ?? '');
    if (found && found[1] === letter) top = Math.max(top, Number(found[2]));
  }
  return `${letter}${top + 1}`;
}

export interface Batchish { name: string; made?: number | undefined; what?: string | undefined }

/** The day on a label, in the labels' language. */
const dayOf = ({ made }: Batchish): { day?: string } => (made === undefined ? {} : { day: onLabel(() => day(made)) });

/** Labels of fresh codes, numbered on from `first` as the fold will number them: only bags count. */
export function labelsOf(codes: string[], batch: Batchish, first: string): Label[] {
  let bags = 0;
  return codes.map((code) => {
    const number = code.startsWith('B') ? numberOf(first, bags++) : '';
    return {
      code, batch: batch.name,
      ...(number ? { number } : {}),
      ...(batch.what ? { what: batch.what } : {}),
      ...dayOf(batch),
    };
  });
}

/** Labels of bags and group tags of a batch that have a code. */
export function labelsOfParts(parts: [string, Part][], batch: Batchish): Label[] {
  return parts.filter(([code]) => !code.startsWith('g-')).map(([code, p]) => ({
    code, batch: batch.name,
    ...(p.num ? { number: p.num } : {}),
    ...(p.strain ? { what: strainName(p.strain) } : batch.what ? { what: batch.what } : {}),
    ...dayOf(batch),
  }));
}
