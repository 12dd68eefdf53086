/**
 * A load's temperatures written down by hand beside the steamer, and scored on this device with no network. A line
 * may be a pressure: then the steam's temperature at the farm's altitude counts, and trapped air makes it a lie.
 */
import { useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { pressure, spacedCode, temperature, units, wall } from '../i18n/format';
import { GAUGES, pressureFindings, readRows, UNITS, type Row } from '../trade/handTable';
import { loggedData } from '../trade/logged';
import { tidy } from '../trade/readings';
import { score as scoreOf } from '../trade/score';
import { pot } from '../trade/steam';
import { save } from '../ui/act';
import { Care } from '../ui/Care';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import { goInstead, to } from '../ui/route';
import { wayOf } from './LoadLog';
import { ScoreCard, TermsCard, usualTerms, type Terms } from './LoadScore';
import { Faults } from './logwords';
import { attempt } from './mixwords';
import { altitude as farmAltitude } from './Pressure';
import { Head } from './parts';

interface Draft { rows: Row[]; terms: Terms }

const KEY = 'bagtrail.load_table.';

/** What was written survives a reload or a dead battery: it is not yet a record. */
function kept(code: string): Draft | null {
  try {
    return JSON.parse(localStorage.getItem(KEY + code) ?? 'null') as Draft | null;
  } catch {
    return null;
  }
}

export function LoadTable({ code }: { code: string }) {
  const first = kept(code);
  const usual = units.value === 'us' ? '°F' : '°C';
  const [draft, setDraft] = useState<Draft>(first ?? { rows: [{ time: '', value: '', unit: usual }, { time: '', value: '', unit: usual }], terms: usualTerms(wayOf(code)) });
  const { rows, terms } = draft;
  const put = (next: Draft): void => {
    setDraft(next);
    try {
      localStorage.setItem(KEY + code, JSON.stringify(next));
    } catch {
      // No room or barred: the lines stay on screen until they are saved.
    }
  };
  const set = (i: number, with_: Partial<Row>): void => put({ ...draft, rows: rows.map((row, at) => (at === i ? { ...row, ...with_ } : row)) });
  const add = (time = ''): void => put({ ...draft, rows: [...rows, { time, value: '', unit: rows[rows.length - 1]?.unit ?? usual }] });
  const now = (): string => { const w = wall(Date.now()); return `${String(w.h).padStart(2, '0')}:${String(w.min).padStart(2, '0')}`; };
  const altitude = farmAltitude();
  const read = attempt(() => readRows(rows, altitude ?? 0));
  const whole_ = 'ok' in read ? read.ok : [];
  const gauges = rows.some((row) => GAUGES.has(row.unit));
  const probe = whole_.length > 0 && whole_.every((r) => r.gauge !== null) ? t('load_table.gauge') : t('load_table.core');
  const sum = whole_.length > 1 ? attempt(() => scoreOf(tidy(whole_.map((r) => r.ms), whole_.map((r) => [r.c]), [probe], { by_hand: true }), terms.ref, terms.z, terms.limit)) : null;
  const score = sum && 'ok' in sum ? sum.ok : null;
  const found = [...('ok' in read ? pressureFindings(read.ok, altitude ?? 0) : []), ...(score?.findings ?? [])];
  const here = attempt(() => pot((altitude ?? 0) * 1_000));
  const data = score ? loggedData({ ...score, findings: found }, { by_hand: true }) : null;
  const keep = async (): Promise<void> => {
    if (!data || !(await save([{ ty: 'load.logged', sub: [code], d: data }], t('load_log.saved')))) return;
    localStorage.removeItem(KEY + code);
    goInstead('load', code);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('load_table.title')} sub={`${t('type.H')} ${spacedCode(code)}`} />
      <p>{t('load_table.words')}</p>
      <div class="sides">
      <div>
      <ol class="stack-close" style={{ listStyle: 'none', padding: 0, margin: 0 }}>{rows.map((row, i) => (
        <li key={i}><div class="load-line" role="group" aria-label={t('load_table.line', { n: i + 1 })}>
          <input class="input" type="time" value={row.time} aria-label={t('load_table.time', { n: i + 1 })} onInput={(e) => set(i, { time: e.currentTarget.value })} />
          <input class="input" inputMode="decimal" autoComplete="off" dir="ltr" value={row.value} aria-label={t('load_table.value', { n: i + 1 })} onInput={(e) => set(i, { value: e.currentTarget.value })} />
          <select class="input" value={row.unit} aria-label={t('load_table.unit', { n: i + 1 })} onChange={(e) => set(i, { unit: e.currentTarget.value })}>{UNITS.map((u) => <option key={u} value={u}>{u}</option>)}</select>
        </div></li>
      ))}</ol>
      <div class="row">
        <button type="button" class="btn grow" onClick={() => add(now())}>{t('load_table.now')}</button>
        <button type="button" class="btn grow" onClick={() => add()}>{t('load_table.add')}</button>
        {rows.length > 2 && <button type="button" class="btn grow" onClick={() => put({ ...draft, rows: rows.slice(0, -1) })}>{t('load_table.drop')}</button>}
      </div>
      {'wrong' in read && <ErrorNote what={read.wrong} />}
      {sum && 'wrong' in sum && <ErrorNote what={sum.wrong} />}
      {gauges && (
        <section class="card" aria-label={t('load_table.here')} data-here>
          <h2>{t('load_table.here')}</h2>
          {altitude === null && <p class="note note-ask"><Mark kind="ask" size={24} /><span>{t('load_table.no_altitude')} <a href={to('vessels')}>{t('load_table.altitude.where')}</a></span></p>}
          {'ok' in here && <p>{t('load_table.needed', { gauge: pressure(here.ok.gauge_pa), temp: temperature(here.ok.temp), altitude: num(altitude ?? 0), boils: temperature(here.ok.boils) })}</p>}
          <p class="note note-care"><Mark kind="care" size={24} /><span>{t('load_table.air')}</span></p>
        </section>
      )}
      {found.length > 0 && <section class="stack-close" aria-label={t('load_log.faults')} data-faults><Faults of={found} clock="wall" /></section>}
      </div>
      <div>
      {score ? <ScoreCard score={score} clock="wall" /> : <p class="quiet">{t('load_table.two')}</p>}
      <TermsCard terms={terms} onChange={(next) => put({ ...draft, terms: next })} />
      <button type="button" class="btn btn-first" disabled={!data} onClick={() => void keep()}>{t('load_log.keep')}</button>
      <Care of="load.ran" />
      </div>
      </div>
    </main>
  );
}
