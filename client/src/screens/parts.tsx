/** Pieces that every screen shares: a head with a way back, a word while something is looked up, links to acts. */
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { t } from '../i18n';
import { Icon } from '../ui/Icon';
import { back, to } from '../ui/route';

// The first heading of all leaves the focus where the browser put it.
let opened = false;

/** The heading of a screen: a reader starts there when the screen comes up, and the tab carries its name. */
export function Heading({ text, unseen }: { text: string; unseen?: boolean }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    if (opened) heading.current?.focus({ preventScroll: true });
    opened = true;
  }, []);
  useEffect(() => { document.title = t('app.title', { screen: text }); }, [text]);
  return <h1 ref={heading} tabIndex={-1} dir="auto" class={unseen ? 'unseen' : ''}>{text}</h1>;
}

export function Head({ title, sub, root, children }: { title: string; sub?: string | undefined; root?: boolean; children?: ComponentChildren }) {
  return (
    <div class="screen-head">
      {!root && <button type="button" class="btn btn-bare btn-icon" aria-label={t('nav.back')} onClick={back}><Icon name="back" /></button>}
      <div style={{ flex: 1, minWidth: 0 }}>
        <Heading text={title} />
        {sub && <p class="quiet small" dir="auto">{sub}</p>}
      </div>
      {children}
    </div>
  );
}

export function Loading() {
  return <p class="quiet" role="status">{t('loading')}</p>;
}

export const actLink = (ty: string, code: string): string =>
  ty === 'bag.contaminated' ? to('bad', code)
    : ty === 'bag.harvested' ? to('harvest', code)
      : ty === 'bag.moved' ? to('move', code)
        : ty === 'bag.photographed' ? to('photo', code)
        : ty === 'place.moved' ? to('roll', code)
          : ty === 'group.split' ? to('label', code)
            : to('act', ty, code);
