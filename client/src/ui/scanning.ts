/**
 * Who gets the next scan. The camera and the wedge scanner both end here; the screen on top takes the
 * reading, and where none has asked, the code's own page opens. So no screen has a "scan mode".
 */
import { useEffect, useRef } from 'preact/hooks';
import { tell } from '../scan/feedback';
import type { Reading } from '../scan/read';
import { go } from './route';
import { say } from './toast';
import { sayReading } from './reading';

/** `again`: the same label was read less than three seconds ago. */
export type OnCode = (code: string, again: boolean) => void;

const takers: { take: OnCode }[] = [];

/** Sends scanned codes to this component while it is on screen. */
export function useScan(take: OnCode | null): void {
  const held = useRef<{ take: OnCode }>({ take: () => undefined });
  if (take) held.current.take = take;
  const on = take !== null;
  useEffect(() => {
    if (!on) return undefined;
    const entry = held.current;
    takers.push(entry);
    return () => { takers.splice(takers.indexOf(entry), 1); };
  }, [on]);
}

/** Hands a reading to the screen on top; a reading that is no code of ours is told in words. */
export function dispatch(reading: Reading, again = false): void {
  if (reading.kind !== 'code') {
    tell('wrong');
    const said = sayReading(reading);
    if (said) say(reading.kind === 'mistyped' ? 'ask' : 'bad', said);
    return;
  }
  const top = takers[takers.length - 1];
  tell(again ? 'again' : 'read');
  if (top) top.take(reading.code, again);
  else go('c', reading.code);
}
