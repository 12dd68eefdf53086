/** The loads: what stands in the steriliser or waits for its result first, then what ran lately. */
import { t } from '../i18n';
import { app } from '../ui/app';
import { Icon } from '../ui/Icon';
import { save } from '../ui/act';
import { go, goInstead, to } from '../ui/route';
import { inOrder, isOpen, isSteamed, loadName, type LoadState } from './loads';
import { StateTag } from './loadstate';
import { draftsInto } from './LoadFill';
import { Head } from './parts';
import { useTarget } from './target';
import type { RefRow } from '../app-types';
import { useState } from 'preact/hooks';

const SHOWN = 20;

/** `put`: a batch, group or bag that is to go into one of them. */
export function Loads({ put }: { put?: string | undefined }) {
  const a = app();
  const [more, setMore] = useState(SHOWN);
  void a.changed.value;
  const loads = inOrder(a.ref.value.loads);
  const open = loads.filter(([, , state]) => isOpen(state));
  const ran = loads.filter(([, , state]) => !isOpen(state));
  return (
    <main class="screen" id="main">
      <Head title={t('screen.loads')} sub={t('about.loads')} />
      {put && <Put key={put} code={put} open={open.filter(([, , state]) => state === 'filling').map(([load]) => load)} />}
      <div class="row row-acts">
        <button type="button" class={`btn grow${put ? '' : ' btn-first'}`} onClick={() => go('load', a.newCode('H'))}><Icon name="plus" />{t('load.new')}</button>
        <a class="btn grow" href={to('vessels')}>{t('vessels.title')}</a>
      </div>
      {loads.length === 0 && <p class="quiet">{t('load.none_yet')}</p>}
      {open.length > 0 && <section class="stack-close"><h2>{t('load.open', { n: open.length })}</h2><List rows={open} /></section>}
      {ran.length > 0 && <section class="stack-close"><h2>{t('load.recent')}</h2><List rows={ran.slice(0, more)} /></section>}
      {ran.length > more && <button type="button" class="btn" onClick={() => setMore(more + SHOWN)}>{t('find.more', { n: ran.length - more })}</button>}
    </main>
  );
}

function Put({ code, open }: { code: string; open: string[] }) {
  const target = useTarget(code);
  const [made] = useState(() => app().newCode('H'));
  if (!target || target.type === 'thing') return null;
  const into = async (load: string): Promise<void> => {
    if (await save(draftsInto(load, target, null), t('load.put', { name: target.name }))) goInstead('load', load);
  };
  return (
    <section class="card" aria-label={t('load.put_where', { name: target.name })}>
      <h2 dir="auto">{t('load.put_where', { name: target.name })}</h2>
      <p class="quiet">{t('name.bags', { n: target.n })}</p>
      <button type="button" class="btn btn-first" onClick={() => void into(made)}><Icon name="plus" />{t('load.put_new')}</button>
      {open.map((load) => <button type="button" class="btn" key={load} onClick={() => void into(load)}>{loadName(load)}</button>)}
    </section>
  );
}

function List({ rows }: { rows: [string, RefRow, LoadState][] }) {
  return (
    <ul class="list">{rows.map(([code, row, state]) => {
      const parts = app().briefs(code);
      const n = parts.reduce((sum, part) => sum + part.n, 0);
      const names = [...new Set(parts.map(({ unit }) => app().batchName(unit) ?? ''))].filter(Boolean);
      return (
        <li key={code}><a href={to('load', code)}><b dir="auto">{loadName(code)}</b><span />
          <span class="sub" dir="auto"><StateTag state={state} steamed={isSteamed(row)} /> {[t('name.bags', { n }), ...names.slice(0, 3), names.length > 3 ? '…' : ''].filter(Boolean).join(' · ')}</span></a></li>
      );
    })}</ul>
  );
}
