/**
 * The result of a scan, told at once by sound, vibration, colour, shape and word; and which sightings of
 * a label are news.
 */

/** read: a label understood; taken: the record is stored; again: the same bag as a moment ago; wrong: not taken. */
export type Outcome = 'read' | 'taken' | 'again' | 'wrong';

/** For the screen: the colour's role, the shape that says the same without colour, the word's message id. */
export interface Shown {
  tone: 'ok' | 'ask' | 'bad';
  shape: 'dot' | 'tick' | 'twice' | 'cross';
  word: string;
}

const SHOWN: Record<Outcome, Shown> = {
  read: { tone: 'ok', shape: 'dot', word: 'scan.told.read' },
  taken: { tone: 'ok', shape: 'tick', word: 'scan.told.saved' },
  again: { tone: 'ask', shape: 'twice', word: 'scan.told.again' },
  wrong: { tone: 'bad', shape: 'cross', word: 'scan.told.wrong' },
};

interface Note {
  hz: number;
  /** Start and length, ms. */
  at: number;
  for: number;
  wave: OscillatorType;
}

// Told apart by rhythm and direction, not by pitch alone: shed fans are loud, ears differ.
const NOTES: Record<Outcome, Note[]> = {
  read: [{ hz: 1400, at: 0, for: 60, wave: 'sine' }],
  taken: [
    { hz: 880, at: 0, for: 70, wave: 'sine' },
    { hz: 1320, at: 80, for: 110, wave: 'sine' },
  ],
  again: [
    { hz: 700, at: 0, for: 90, wave: 'triangle' },
    { hz: 700, at: 150, for: 90, wave: 'triangle' },
  ],
  wrong: [{ hz: 190, at: 0, for: 380, wave: 'square' }],
};

const BUZZ: Record<Outcome, number[]> = { read: [25], taken: [60], again: [50, 80, 50], wrong: [250] };

let audio: AudioContext | undefined;
let muted = false;

/** Switches the sounds off or on; vibration and screen stay. */
export function mute(off: boolean): void {
  muted = off;
}

/** Makes the sound ready; browsers allow it only from within a touch or a key press. */
export function unlockSound(): void {
  if (typeof AudioContext === 'undefined') return;
  audio ??= new AudioContext();
  if (audio.state !== 'running') void audio.resume().catch(() => undefined);
}

/** Unlocks the sound at the first touch or key of the page. Returns the stop function. */
export function unlockOnTouch(): () => void {
  const once = { capture: true, once: true };
  addEventListener('pointerdown', unlockSound, once);
  addEventListener('keydown', unlockSound, once);
  return () => {
    removeEventListener('pointerdown', unlockSound, once);
    removeEventListener('keydown', unlockSound, once);
  };
}

/** What the screen is to show for an outcome. */
export function shown(outcome: Outcome): Shown {
  return SHOWN[outcome];
}

/** Sounds and buzzes an outcome and returns what the screen is to show. Never throws. */
export function tell(outcome: Outcome): Shown {
  try {
    if (!muted) play(NOTES[outcome]);
    // Chrome refuses before the first touch, Firefox accepts and does nothing: no answer is relied on.
    navigator.vibrate?.(BUZZ[outcome]);
  } catch {
    // A phone without sound still shows colour, shape and word.
  }
  return SHOWN[outcome];
}

function play(notes: readonly Note[]): void {
  // Without a touch so far the context is suspended: a queued note would sound late and mislead.
  if (audio?.state !== 'running') return;
  for (const note of notes) {
    const voice = audio.createOscillator();
    const gain = audio.createGain();
    const start = audio.currentTime + note.at / 1000;
    const end = start + note.for / 1000;
    voice.type = note.wave;
    voice.frequency.value = note.hz;
    // A short slope at both ends: a hard edge clicks.
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(0.35, start + 0.008);
    gain.gain.setValueAtTime(0.35, end - 0.015);
    gain.gain.linearRampToValueAtTime(0, end);
    voice.connect(gain).connect(audio.destination);
    voice.start(start);
    voice.stop(end);
  }
}

/** A label not seen for this long (ms) has left the camera's view. */
export const GONE_MS = 1500;

/** The same label within this time (ms) may be one bag taken twice: the caller asks, nothing is dropped. */
export const TWICE_MS = 3000;

/** Which sightings are news. Times in ms, of any one clock that never goes back. */
export class Sightings {
  private readonly seen = new Map<string, number>();

  /**
   * A label in the camera's view: null while it stays there (no news), else whether it was here less than
   * TWICE_MS ago.
   */
  inView(text: string, now: number): { again: boolean } | null {
    const before = this.note(text, now);
    return now - before < GONE_MS ? null : { again: now - before < TWICE_MS };
  }

  /** A label scanned by wedge or typed: each is an act of its own. */
  byHand(text: string, now: number): { again: boolean } {
    return { again: now - this.note(text, now) < TWICE_MS };
  }

  private note(text: string, now: number): number {
    for (const [old, at] of this.seen) if (now - at >= TWICE_MS) this.seen.delete(old);
    const before = this.seen.get(text) ?? -Infinity;
    this.seen.set(text, now);
    return before;
  }
}

/**
 * One for the whole app: a label still in view when the screen changes is no news there either, and a
 * wedge scan of what the camera has just seen is the same bag again.
 */
export const sightings = new Sightings();
