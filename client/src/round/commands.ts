/**
 * Our own command tags: printed on a card, scanned like any label, so that gloves never touch a screen. A tag's
 * seven symbols are the command's number; the farm's tag before it keeps another farm's card out. Pure.
 */
import { checkSymbol } from '../ids';

/** The commands by number. Cards are printed once and hang for years: only ever add at the end of a group. */
const GROUPS: readonly (readonly [first: number, words: readonly string[]])[] = [
  [1, ['done', 'undo', 'yes', 'no', 'all_but', 'home']],
  [10, ['digit.0', 'digit.1', 'digit.2', 'digit.3', 'digit.4', 'digit.5', 'digit.6', 'digit.7', 'digit.8', 'digit.9', 'digit.erase']],
  [30, ['purpose.inoculate', 'purpose.move', 'purpose.load', 'purpose.adopt', 'purpose.look', 'purpose.colonised', 'purpose.open',
    'purpose.soak', 'purpose.shock', 'purpose.pick', 'purpose.weigh', 'purpose.finish', 'purpose.contaminated', 'purpose.fill',
    'purpose.roll', 'purpose.pack', 'purpose.seek', 'purpose.sweep']],
  [70, ['flush.1', 'flush.2', 'flush.3', 'flush.4', 'flush.5', 'flush.6']],
  [100, ['sign.green_mould', 'sign.orange_mould', 'sign.blue_green_mould', 'sign.black_mould', 'sign.pin_mould', 'sign.cobweb',
    'sign.wet_spot', 'sign.blotch', 'sign.lipstick_mould', 'sign.slime_mould', 'sign.mites', 'sign.flies', 'sign.other']],
  [130, ['where.top', 'where.spawn', 'where.side', 'where.bottom', 'where.patch', 'where.seam', 'where.hole', 'where.throughout']],
  [150, ['kept.kept_apart', 'kept.thrown_out']],
  [160, ['how.top_cut', 'how.slit', 'how.stripped']],
  [170, ['cause.spent', 'cause.dumped', 'cause.sold', 'cause.burst', 'cause.melted']],
  [180, ['result.passed', 'result.failed', 'result.unsure']],
  [190, ['when.filled', 'when.cooled', 'when.before_soak', 'when.after_soak', 'when.other']],
  [200, ['grade.first', 'grade.second', 'grade.third']],
];

const BY_NUMBER = new Map(GROUPS.flatMap(([first, words]) => words.map((word, i) => [first + i, word] as const)));
const BY_WORD = new Map([...BY_NUMBER].map(([number, word]) => [word, number]));

/** Every command, in the order of the card. */
export const COMMANDS: readonly string[] = [...BY_WORD.keys()];

/** The code on a command's tag, e.g. `done` -> X0000001 and its check symbol. Throws RangeError for no command. */
export function codeOf(word: string): string {
  const number = BY_WORD.get(word);
  if (number === undefined) throw new RangeError(`no command: ${word}`);
  const body = `X${String(number).padStart(7, '0')}`;
  return body + checkSymbol(body);
}

/** The command of a tag; null for a tag of a later version. */
export function commandOf(code: string): string | null {
  const digits = /^X(\d{7})/.exec(code)?.[1];
  return digits === undefined ? null : BY_NUMBER.get(Number(digits)) ?? null;
}
