/** What is wrong and what to do; what is asked; both with a shape of their own. */
import type { ComponentChildren } from 'preact';
import { Mark } from './Mark';

export function ErrorNote({ what, todo }: { what: string; todo?: string }) {
  return (
    <div class="note note-bad" role="alert">
      <Mark kind="bad" />
      <strong dir="auto">{what}</strong>
      {todo && <span dir="auto">{todo}</span>}
    </div>
  );
}

export function AskNote({ what, children }: { what: string; children?: ComponentChildren }) {
  return (
    <div class="note note-ask" role="alert">
      <Mark kind="ask" />
      <strong dir="auto">{what}</strong>
      {children && <div class="stack-close">{children}</div>}
    </div>
  );
}
