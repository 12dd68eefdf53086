/**
 * Wedge scanners: readers that type like a keyboard, very fast, and end with Enter or Tab. Nothing is
 * switched on for them: any burst of keys on any screen is a scan, slow typing is left alone.
 *
 * A scanner may be set to another keyboard layout than its host, so a scan is given twice: as the host
 * understood the keys, and as the same keys in US positions. The check symbol tells which one holds.
 */

/** At most this long from key to key (ms). Scanners send every 1 to 20 ms, people type every 80 or more. */
export const GAP_MS = 50;

/** Fewer keys than this are a person's roll over the keyboard. */
export const LEAST_KEYS = 4;

// A label's text has under 40; a held key or a stuck macro must not grow without end.
const MOST_KEYS = 400;

/** The texts one scan may stand for, the host's reading first, without repeats. */
export type WedgeScan = string[];

/** The part of a KeyboardEvent that counts. */
export type Press = Pick<
  KeyboardEvent,
  'key' | 'code' | 'shiftKey' | 'ctrlKey' | 'metaKey' | 'repeat' | 'isComposing' | 'timeStamp'
>;

export type Outcome = { kind: 'first' } | { kind: 'more' } | { kind: 'other' } | { kind: 'scan'; texts: WedgeScan };

/** Collects key presses; pure but for what it holds. Times are the events' own, so a busy page is no matter. */
export class Burst {
  private host = '';
  private us = '';
  private keys = 0;
  private last = -Infinity;

  /** `first` begins a possible scan, `more` goes on, `scan` ends one; `other` is none of them. */
  press(press: Press): Outcome {
    // Scanners hold Shift for capitals; it comes and goes between the symbols.
    if (['Shift', 'CapsLock', 'AltGraph'].includes(press.key)) return { kind: 'other' };
    const slow = press.timeStamp - this.last > GAP_MS;
    if (press.key === 'Enter' || press.key === 'Tab') {
      const { host, us, keys } = this;
      this.clear();
      const isScan = !slow && !press.repeat && keys >= LEAST_KEYS;
      return isScan ? { kind: 'scan', texts: host === us ? [host] : [host, us] } : { kind: 'other' };
    }
    const us = inUsPosition(press);
    const printable = [...press.key].length === 1;
    // A held key repeats every 30 ms and would look like a scan.
    const stray = press.ctrlKey || press.metaKey || press.repeat || press.isComposing;
    if (stray || !(printable || us)) {
      this.clear();
      return { kind: 'other' };
    }
    if (slow || this.keys >= MOST_KEYS) this.clear();
    this.host += printable ? press.key : '';
    this.us += us;
    this.keys += 1;
    this.last = press.timeStamp;
    return { kind: this.keys === 1 ? 'first' : 'more' };
  }

  private clear(): void {
    this.host = '';
    this.us = '';
    this.keys = 0;
    this.last = -Infinity;
  }
}

const US_PLAIN: Record<string, string> = {
  Space: ' ', Minus: '-', Equal: '=', BracketLeft: '[', BracketRight: ']', Backslash: '\\', Semicolon: ';',
  Quote: "'", Backquote: '`', Comma: ',', Period: '.', Slash: '/', NumpadDecimal: '.', NumpadDivide: '/',
  NumpadSubtract: '-', NumpadAdd: '+', NumpadMultiply: '*',
};
const US_SHIFTED: Record<string, string> = {
  Minus: '_', Equal: '+', BracketLeft: '{', BracketRight: '}', Backslash: '|', Semicolon: ':', Quote: '"',
  Backquote: '~', Comma: '<', Period: '>', Slash: '?',
};
const US_DIGITS_SHIFTED = ')!@#$%^&*(';

/** What a key would write on a US keyboard; '' for keys that write nothing. Letters come in upper case. */
function inUsPosition({ code, shiftKey }: Press): string {
  const [, letter, digit] = /^(?:Key([A-Z])|(?:Digit|Numpad)([0-9]))$/.exec(code) ?? [];
  if (letter) return letter;
  if (digit) return shiftKey && code.startsWith('Digit') ? US_DIGITS_SHIFTED.charAt(Number(digit)) : digit;
  return (shiftKey ? US_SHIFTED[code] : undefined) ?? US_PLAIN[code] ?? '';
}

/** A text field as it was before a burst began. */
interface Before {
  field: HTMLInputElement | HTMLTextAreaElement;
  value: string;
  start: number | null;
  end: number | null;
}

/**
 * Listens on a window for scans. A scan's keys are taken back out of the field they were typed into, and
 * its Enter or Tab does nothing else. Returns the stop function.
 */
export function listenWedge(onScan: (texts: WedgeScan) => void, on: Window = window): () => void {
  const burst = new Burst();
  let before: Before | null = null;
  const listen = (event: KeyboardEvent): void => {
    const outcome = burst.press(event);
    if (outcome.kind === 'first') before = remember(event.target);
    if (outcome.kind !== 'scan') return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (before) restore(before);
    before = null;
    onScan(outcome.texts);
  };
  // Capture: before any form sees the Enter.
  on.addEventListener('keydown', listen, { capture: true });
  return () => on.removeEventListener('keydown', listen, { capture: true });
}

function remember(target: EventTarget | null): Before | null {
  if (!(target instanceof HTMLInputElement || target instanceof HTMLTextAreaElement)) return null;
  return { field: target, value: target.value, start: target.selectionStart, end: target.selectionEnd };
}

function restore({ field, value, start, end }: Before): void {
  field.value = value;
  // Number fields have no selection and throw.
  if (start !== null) field.setSelectionRange(start, end);
  // Forms that follow every input must hear that the text is gone again.
  field.dispatchEvent(new Event('input', { bubbles: true }));
}
