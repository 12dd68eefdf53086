/** Pieces that several screens share: a head with a way back, a part in a list, a table of counts. */
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { Found, Part } from '../app-types';
import { t } from '../i18n';
import { dayAge, share } from '../i18n/format';
import { BagSign, lookOf, lookWords } from '../ui/BagSign';
import { Icon } from '../ui/Icon';
import { placeName, placePath, strainName } from '../ui/names';
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

/** One row of an answer: batch, strain, stage, place and count, with the bag's sign. */
export function FoundRow({ row, showBatch }: { row: Found; showBatch: boolean }) {
  const look: Pick<Part, 'stage' | 'since'> & Partial<Part> = {
    stage: row.stage, since: row.since, ...(row.bad ? { bad: { sign: '', t: row.since } } : {}),
  };
  return (
    <>
      <BagSign look={lookOf(look)} size={48} />
      <span>
        <b dir="auto">{showBatch ? row.name : row.place ? placeName(row.place) : t('name.no_place')}</b>
        <span class="sub" dir="auto">{lookWords(look)}, {dayAge(row.since)}{row.strain ? ` · ${strainName(row.strain)}` : ''}</span>
        {showBatch && <span class="sub" dir="auto">{placePath(row.place)}</span>}
      </span>
      <span class="qty">{row.n}</span>
    </>
  );
}

/** Counts as bars with their figures; a bar is only the picture of the figure beside it. */
export function Counts({ rows, whole }: { rows: { key: string; name: string; n: number; href?: string }[]; whole: number }) {
  return (
    <ul class="list">
      {rows.map((r) => {
        const inner = (
          <>
            <span><b dir="auto">{r.name}</b><span class="bar" aria-hidden="true" style={{ marginTop: '6px' }}><i style={{ width: `${whole > 0 ? Math.max(0, Math.min(100, (r.n / whole) * 100)) : 0}%` }} /></span></span>
            <span class="qty">{r.n}<span class="sub">{share(r.n, whole)}</span></span>
          </>
        );
        return <li key={r.key}>{r.href ? <a href={r.href}>{inner}</a> : <div class="item-still">{inner}</div>}</li>;
      })}
    </ul>
  );
}

export function Loading() {
  return <p class="quiet" role="status">{t('loading')}</p>;
}

export const actLink = (ty: string, code: string): string =>
  ty === 'bag.contaminated' ? to('bad', code)
    : ty === 'bag.harvested' ? to('harvest', code)
      : ty === 'bag.moved' ? to('move', code)
        : ty === 'place.moved' ? to('roll', code)
          : ty === 'group.split' ? to('label', code)
            : to('act', ty, code);
