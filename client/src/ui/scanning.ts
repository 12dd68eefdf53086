/**
 * Who gets the next scan. The camera and the wedge scanner both end here; the screen on top takes the
 * reading, and where none has asked, the code's own page opens. So no screen has a "scan mode".
 *
 * Scans are delivered one after the other: a quick hand is faster than a write or a redraw, and a scan that
 * met the screen in the middle of the one before would be lost.
 */
import { useEffect, useRef } from 'preact/hooks';
import { tell } from '../scan/feedback';
import type { Reading } from '../scan/read';
import { t } from '../i18n';
import { errorWords, saving } from './act';
import { go, parseHash, route } from './route';
import { say } from './toast';
import { sayReading } from './reading';

/** `again`: the same label was read less than three seconds ago. A promise lasts until all is saved. */
export type OnCode = (code: string, again: boolean) => void | Promise<void>;

/** `letter`: only codes of this type are for it, others are for whoever lies below. */
interface Taker { take: OnCode; letter?: string | undefined; quiet?: boolean | undefined }

const takers: Taker[] = [];

/**
 * Sends scanned codes to this component while it is on screen; with `letter` only codes of that type. `quiet`: it
 * tells each scan itself. Command tags go to who names their letter, else to the screen that obeys them.
 */
export function useScan(take: OnCode | null, letter?: string, quiet?: boolean): void {
  const held = useRef<Taker>({ take: () => undefined });
  if (take) held.current.take = take;
  held.current.letter = letter;
  held.current.quiet = quiet;
  const on = take !== null;
  useEffect(() => {
    if (!on) return undefined;
    const entry = held.current;
    takers.push(entry);
    return () => { takers.splice(takers.indexOf(entry), 1); };
  }, [on]);
}

/** Takes what was typed by a machine before it is read as a label: a scale that types, say. True: it was its own. */
export type OnText = (texts: string[]) => boolean;

const readers: OnText[] = [];

/** Gives this component, while it is on screen, the first look at every burst of keys. */
export function useText(take: OnText): void {
  const held = useRef(take);
  held.current = take;
  useEffect(() => {
    const entry: OnText = (texts) => held.current(texts);
    readers.push(entry);
    return () => { readers.splice(readers.indexOf(entry), 1); };
  }, []);
}

export const takeText: OnText = (texts) => readers.some((take) => take(texts));

/** Longer than any write; a screen that never answers must not leave the scanner mute (ms). */
const LONGEST_MS = 10_000;

const pause = (ms: number): Promise<void> => new Promise((resolve) => { setTimeout(resolve, ms); });

/** Whether a screen was asked for that is not up, or a card has opened a round that does not listen yet. */
function onTheWay(): boolean {
  const { name, args } = parseHash(location.hash);
  return name !== route.value.name || name === 'hands' || (name === 'round' && (args.length > 0 || !takers.length));
}

let before: Promise<void> = Promise.resolve();

/** Hands a reading to the screen on top; a reading that is no code of ours is told in words. */
export function dispatch(reading: Reading, again = false): void {
  if (reading.kind !== 'code') {
    tell('wrong');
    const said = sayReading(reading);
    if (said) say(reading.kind === 'mistyped' ? 'ask' : 'bad', said);
    return;
  }
  const { code } = reading;
  if (!takers.at(-1)?.quiet) tell(again ? 'again' : 'read');
  before = before.then(() => Promise.race([deliver(code, again), pause(LONGEST_MS)]));
}

async function deliver(code: string, again: boolean): Promise<void> {
  // A save begun by a touch: the scan after it belongs to the screen as it is when that is done.
  while (saving.value) await pause(10);
  for (let i = 0; i < 300 && onTheWay(); i += 1) await pause(10);
  // Its screen is redrawn in a microtask; a task later it is sure to know.
  await pause(0);
  const top = takers[takers.length - 1];
  const taker = takers.findLast(({ letter }) => (letter === undefined && code[0] !== 'X') || code[0] === letter);
  try {
    if (taker) await taker.take(code, again);
    else if (code[0] === 'X') go('hands', code);
    else if (top?.letter) say('bad', t('scan.wrong_type', { want: t(`type.${top.letter}`), got: t(`type.${code[0] ?? 'B'}`) }));
    else go('c', code);
  } catch (error) {
    const { what, todo } = errorWords(error);
    say('bad', `${what} ${todo}`.trim());
  }
}
