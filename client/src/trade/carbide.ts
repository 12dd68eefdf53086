/**
 * Calcium carbide is refused as an ingredient, however it is written; the twin of
 * server/bagtrail/trade/carbide.py. With water it gives acetylene (ICSC 0406, 2017).
 */
const WORDS = new Set([
  'acetylenogen', 'acetylide', 'ethynediide', 'carburo', 'carbure', 'carbureto', 'carburi', 'karpit',
  'karbit', 'kalburo', 'карбид', 'карбід',
]);
/** Scripts without spaces between words: any place in the text counts. */
const PIECES = ['电石', '電石', '碳化钙', '碳化鈣', 'カーバイド', '炭化カルシウム', '카바이드', '탄화칼슘'];
/** CAS number, EC number, UN number, formula. */
const NUMBERS = / (75 ?20 ?7|200 ?848 ?3|un ?1402|ca ?c ?2|c ?2 ?ca) /;
/** One slip from these is refused too; "carbamide" (urea) and "carbonate" are two and more away. */
const NEAR = ['carbide', 'karbide'];

export type Meant = 'calcium_carbonate' | 'gypsum';

/** Why an ingredient is refused, and what was likely meant, the likeliest first. */
export interface Refusal {
  code: 'carbide';
  name: string;
  meant: Meant[];
}

/** Refuses a name that means calcium carbide: by name, formula, number or misspelling. */
export function refuse(name: string): Refusal | null {
  const text = plain(name);
  if (!isCarbide(text)) return null;
  const meant: Meant[] = ['calcium_carbonate', 'gypsum'];
  return { code: 'carbide', name, meant: /gyps|sul[fp]/.test(text) ? meant.reverse() : meant };
}

/** A name in lower case without accents, signs and subscripts, words by one space. */
export function plain(name: string): string {
  const bare = name.normalize('NFKD').toLowerCase().replace(/[\u0300-\u036f]/g, '').normalize('NFC');
  return (bare.match(/[\p{L}\p{N}]+/gu) ?? []).join(' ');
}

function isCarbide(text: string): boolean {
  const words = text.split(' ');
  const joined = words.join('');
  if (/carb[iy]d|karb[iy]d|carbite/.test(joined)) return true;
  if (NUMBERS.test(` ${text} `) || PIECES.some((piece) => joined.includes(piece))) return true;
  return words.some((word) => WORDS.has(word) || NEAR.some((near) => oneSlip(word, near)));
}

/** Whether two words differ by one letter more, less, other, or by two neighbours swapped. */
function oneSlip(word: string, other: string): boolean {
  const letters = [...word];
  const near = [...other];
  if (Math.abs(letters.length - near.length) > 1) return false;
  let i = 0;
  while (i < letters.length && i < near.length && letters[i] === near[i]) i += 1;
  const [a, b] = [letters.slice(i), near.slice(i)];
  const tail = (list: string[], from: number): string => list.slice(from).join('');
  return tail(a, 1) === tail(b, 1) || tail(a, 1) === tail(b, 0) || tail(a, 0) === tail(b, 1)
    || (a.length > 1 && b.length > 1 && a[0] === b[1] && a[1] === b[0] && tail(a, 2) === tail(b, 2));
}
