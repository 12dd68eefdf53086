/** One load: put together, started, closed with its result; then what came of it. */
import type { RefRow } from '../app-types';
import { t } from '../i18n';
import { spacedCode, when } from '../i18n/format';
import { app } from '../ui/app';
import { Care } from '../ui/Care';
import { useAnswer } from '../ui/load';
import { Mark } from '../ui/Mark';
import { to } from '../ui/route';
import { LoadBags } from './LoadBags';
import { LoadClose } from './LoadClose';
import { LoadFill } from './LoadFill';
import { LoadLosses } from './LoadLosses';
import { Cooling, LogCard, OwnRecordCard } from './loadparts';
import { AskResult, StateTag } from './loadstate';
import { figure, isOpen, isSteamed, isUnrecorded, loadName, SOUR_MS, span, stateOf, stoodMs } from './loads';
import { Head } from './parts';
import { Pressure } from './Pressure';
import { programme, withVessel } from './programme';

export function LoadPage({ code }: { code: string }) {
  const a = app();
  void a.changed.value;
  const own = a.ref.value.loads[code];
  const row: RefRow = own ? withVessel(own) : {};
  const state = stateOf(row);
  const open = isOpen(state);
  const parts = a.briefs(code);
  const n = parts.reduce((sum, part) => sum + part.n, 0);
  const begun = figure(row, 'begun');
  const stood = <Stood row={row} open={open} units={[...new Set(parts.map(({ unit }) => unit))]} />;
  return (
    <main class="screen" id="main">
      <Head title={own ? loadName(code) : t('load.new')} sub={[spacedCode(code), t('name.bags', { n })].join(' · ')} />
      <p class="row"><StateTag state={state} steamed={isSteamed(row)} />{begun !== null && <span class="quiet">{t('load.begun', { when: when(begun) })}</span>}</p>
      {isUnrecorded(state) && row['asked'] !== true && <AskResult code={code} />}
      {state === 'failed' && <div class="note note-bad" role="alert"><Mark kind="bad" /><strong>{t('load.failed')}</strong><span>{t('load.failed.todo')}</span></div>}
      {state === 'unsure' && row['asked'] === true && <p class="note note-ask"><Mark kind="ask" size={24} /><span>{t('load.unsure')}</span></p>}
      {open && stood}
      {/* Once for the whole page: filling, running, drawing and closing a load ask for the same care. */}
      {state !== 'failed' && <div class="both"><Care of="load.ran" /></div>}
      <div class="sides">
        <div>
          {open && <LoadFill key={code} code={code} row={row} n={n} />}
          {(state === 'running' || state === 'passed' || state === 'unsure') && <Cooling row={row} />}
          <LoadBags code={code} parts={parts} open={open} />
          {!open && <LoadLosses code={code} parts={parts} />}
        </div>
        <div>
          <section class="card" aria-label={t('load.programme')}>
            <h2>{t('load.programme')}</h2>
            <p dir="auto">{programme(row).join(' · ') || t('load.programme.none')}</p>
            {!open && stood}
          </section>
          {row['way'] !== 'atmospheric' && <Pressure temp={figure(row, 'temp')} />}
          <LoadClose key={`${code}${String(row['result'] ?? '')}`} code={code} row={row} state={state} n={n} />
          {own && <LogCard code={code} row={row} />}
          {own && <OwnRecordCard row={row} />}
          <a class="btn" href={to('print', code)}>{t('place.print')}</a>
          {own && <a class="btn" href={to('thing', code)}>{t('bag.history')}</a>}
        </div>
      </div>
    </main>
  );
}

/** How long the oldest mix has stood wet: it sours when it stands warm. */
function Stood({ row, open, units }: { row: RefRow; open: boolean; units: string[] }) {
  const mixed = useAnswer(() => Promise.all(units.map(async (unit) => (await app().batch(unit))?.mixed)), [units.join()]);
  const ms = mixed ? stoodMs(row, mixed) : null;
  if (ms === null) return null;
  const sour = ms > SOUR_MS;
  if (!open && !sour) return <p class="small quiet">{t('load.stood', { time: span(ms) })}</p>;
  return <p class={`note ${sour ? 'note-ask' : 'note-care'}`} {...(sour ? { role: 'alert' } : {})}><Mark kind={sour ? 'ask' : 'care'} size={24} /><span>{t(sour ? 'load.stood.long' : 'load.stood', { time: span(ms) })} {t('mix.warm')}</span></p>;
}
