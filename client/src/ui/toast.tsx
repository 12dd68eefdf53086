/** The result of an act, told by colour, shape and word at once (sound and vibration: scan/feedback). */
import { signal } from '@preact/signals';
import { Mark, type MarkKind } from './Mark';

interface Said { kind: MarkKind; text: string; nth: number }

const said = signal<Said | null>(null);
let timer = 0;
let nth = 0;

/** Shows a sentence; a good one goes by itself, a bad one stays long enough to be read aloud. */
export function say(kind: MarkKind, text: string): void {
  said.value = { kind, text, nth: (nth += 1) };
  clearTimeout(timer);
  timer = window.setTimeout(hush, kind === 'ok' ? 3500 : 9000);
}

export function hush(): void {
  said.value = null;
}

export function Toast() {
  const now = said.value;
  return (
    <div class="told" aria-live={now?.kind === 'bad' ? 'assertive' : 'polite'}>
      {now && (
        <div key={now.nth} class={`toast toast-${now.kind}`} role="status" onClick={hush}>
          <Mark kind={now.kind} size={36} />
          <span dir="auto">{now.text}</span>
        </div>
      )}
    </div>
  );
}
