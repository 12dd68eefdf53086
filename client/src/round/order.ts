/**
 * In which order work goes, said where it matters: contaminated bags leave last and shut; hands and phone are wiped
 * before a clean room. Common practice of the trade, no source. Pure.
 */

/** How long a hand that held mould is thought of (ms): one working day. */
const DAY_OF_WORK = 10 * 3_600_000;

/** Rounds that carry mould about, and rounds that must not. */
const DIRTY = ['contaminated', 'finish'];
const CLEAN = ['inoculate'];
const LOOKING = ['look', 'colonised', 'adopt', 'open', 'weigh'];

/**
 * What to say when a round begins: ids of `round.order.<word>`. `lastBad`: when this person last held a contaminated
 * bag (ms), null for never.
 */
export function reminders(purpose: string, lastBad: number | null, now: number): string[] {
  const dirty = lastBad !== null && now - lastBad < DAY_OF_WORK;
  if (DIRTY.includes(purpose)) return ['last_shut'];
  if (CLEAN.includes(purpose)) return dirty ? ['wipe_clean', 'held_mould'] : ['wipe_clean'];
  return dirty && LOOKING.includes(purpose) ? ['held_mould'] : [];
}
