/**
 * The button that was touched shows that its act is being written. Usually that is over before a thumb is
 * lifted; on a full or slow phone it is not, and a button that seems dead is touched again.
 */
import { effect } from '@preact/signals';
import { saving } from './act';

/** A touch this long ago (ms) did not begin this act: a scan did. */
const SAME_ACT_MS = 1_000;

let touched: { button: Element; at: number } | null = null;
let marked: Element | null = null;

function remember(e: Event): void {
  const button = e.target instanceof Element ? e.target.closest('button') : null;
  touched = button && { button, at: performance.now() };
}

/** Watches touches and saves from now on. `within` is the page, or a test's piece of one. */
export function markBusy(within: Document | HTMLElement = document): () => void {
  // On its way down: before the screen's own listener begins to save.
  within.addEventListener('click', remember, true);
  const stop = effect(() => {
    if (saving.value && touched && performance.now() - touched.at < SAME_ACT_MS) {
      marked = touched.button;
      marked.setAttribute('aria-busy', 'true');
    } else if (!saving.value) {
      marked?.removeAttribute('aria-busy');
      marked = null;
    }
  });
  return () => {
    within.removeEventListener('click', remember, true);
    stop();
  };
}
