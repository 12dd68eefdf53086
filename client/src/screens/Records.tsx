/** The log as this device holds it, newest first: a table where there is room, a list on a phone. */
import { useState } from 'preact/hooks';
import type { HistoryLine } from '../app-types';
import { kindName, t } from '../i18n';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { KINDS } from '../ui/catalogue';
import { dataWords } from '../ui/History';
import { useAnswer } from '../ui/load';
import { anyName, personName } from '../ui/names';
import { to } from '../ui/route';
import { canAmend } from './Amend';
import { undoLast } from '../ui/UndoBar';
import { Icon } from '../ui/Icon';
import { Head, Loading } from './parts';

const STEP = 100;
const ABOUT = 3;

export function Records() {
  const [limit, setLimit] = useState(STEP);
  const [only, setOnly] = useState('');
  const [text, setText] = useState('');
  const rows = useAnswer(() => app().records(limit), [limit]);
  const wanted = text.trim().toLowerCase();
  const shown = (rows ?? []).filter((r) => (!only || r.line.k === only) && (!wanted || words(r).toLowerCase().includes(wanted)));
  return (
    <main class="screen" id="main">
      <Head title={t('screen.records')} sub={t('records.words')} />
      <div class="row">
        <input class="input grow" type="search" style={{ flexBasis: '12rem' }} value={text} placeholder={t('records.search')} aria-label={t('records.search')} onInput={(e) => setText(e.currentTarget.value)} />
        <select class="input grow" style={{ width: 'auto' }} value={only} aria-label={t('records.kind')} onChange={(e) => setOnly(e.currentTarget.value)}>
          <option value="">{t('records.all_kinds')}</option>
          {[...KINDS.keys()].map((k) => <option key={k} value={k}>{kindName(k)}</option>)}
        </select>
        <button type="button" class="btn" onClick={() => void undoLast()}><Icon name="undo" />{t('records.undo_last')}</button>
      </div>
      {rows === undefined && <Loading />}
      {rows && shown.length === 0 && <p class="quiet">{t('records.none')}</p>}
      {shown.length > 0 && (
        <div class="tablewrap records" tabIndex={0}><table>
          <thead><tr><th>{t('records.when')}</th><th>{t('records.what')}</th><th>{t('records.about')}</th><th>{t('records.data')}</th><th>{t('records.by')}</th><th>{t('records.state')}</th></tr></thead>
          <tbody>{shown.map((r) => <Row key={r.line.id} r={r} />)}</tbody>
        </table></div>
      )}
      {rows && rows.length >= limit && <button type="button" class="btn" onClick={() => setLimit(limit + STEP * 5)}>{t('records.more')}</button>}
    </main>
  );
}

const about = (r: HistoryLine): string => {
  const names = r.line.s.slice(0, ABOUT).map(anyName).join(', ');
  return r.line.s.length > ABOUT ? t('records.and_more', { names, n: r.line.s.length - ABOUT }) : names;
};

const words = (r: HistoryLine): string => `${kindName(r.line.k)} ${about(r)} ${dataWords(r.line)} ${personName(r.line.by)}`;

const CORRECTIONS = ['record.voided', 'record.amended', 'record.admitted', 'device.paired', 'device.revoked'];

function Row({ r }: { r: HistoryLine }) {
  const { line } = r;
  const own = line.by === app().device.value?.by || app().device.value?.role !== 'worker';
  return (
    <tr>
      <td class="nowrap">{when(line.t, line.o === 'd')}</td>
      <td><b class={r.voided ? 'void' : ''}>{kindName(line.k)}</b></td>
      <td dir="auto">{about(r)}</td>
      <td dir="auto">{dataWords(line)}</td>
      <td dir="auto">{personName(line.by)}</td>
      <td>{r.voided ? <span class="tag">{t('history.voided')}</span> : line.p === 0 ? <span class="tag">{t('history.unsent')}</span> : t('records.sent')}
        {!r.voided && own && !CORRECTIONS.includes(line.k) && (
          <details><summary class="small nowrap">{t('records.change')}</summary>
            <div class="stack-close">
              {canAmend(r) && <a class="btn" href={to('amend', line.id)}>{t('records.amend')}</a>}
              <button type="button" class="btn" onClick={() => void save([{ ty: 'record.voided', sub: line.s, d: { target: line.id } }], t('undo.done'))}>{t('records.void')}</button>
            </div>
          </details>
        )}
      </td>
    </tr>
  );
}
