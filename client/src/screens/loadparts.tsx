/** Pieces of a load's page: cooling, what its log was worth, what a steamed load is, the vessel's own record. */
import { num, t } from '../i18n';
import { share, temperature, when } from '../i18n/format';
import type { RefRow } from '../app-types';
import { drawn } from '../trade/logged';
import { app } from '../ui/app';
import { to } from '../ui/route';
import { LoadCurve } from './LoadCurve';
import { cooled, figure, isSteamed, ownRecord, vesselName } from './loads';

/** When it is cool enough to inoculate, and what that figure follows from. */
export function Cooling({ row, now = Date.now() }: { row: RefRow; now?: number }) {
  const c = cooled(row);
  if (c.heat_off === null) return null;
  const over = c.at !== null && c.at <= now;
  return (
    <section class="card" aria-label={t('load.cooling')}>
      <h2>{t('load.cooling')}</h2>
      <p style={{ fontSize: 'var(--t-lead)', fontWeight: 650 }}>{c.at === null ? t('load.cooling.unknown') : t(over ? 'load.cooling.over' : 'load.cooling.from', { when: when(c.at) })}</p>
      <p class="small">{t(`load.cooling.basis.${c.basis}`, { when: when(c.heat_off), h: c.cool_min === null ? '' : (c.cool_min / 60).toFixed(1).replace(/\.0$/, '') })}</p>
      <p class="small quiet">{t('load.cooling.care', { temp: temperature(3_800) })}</p>
    </section>
  );
}

/** What a run is called, and what came of the bags of this vessel and method so far. */
export function OwnRecordCard({ row }: { row: RefRow }) {
  const a = app();
  const own = ownRecord(row, a.ref.value.loads, (code) => a.briefs(code));
  const steamed = isSteamed(row);
  return (
    <section class="card" aria-label={t('load.own')} data-own={`${own.bad}/${own.bags}/${own.loads}`}>
      {steamed && <><h2>{t('load.steamed')}</h2><p>{t('load.steamed.words')}</p></>}
      <h2>{t('load.own')}</h2>
      <p>{own.bags === 0 ? t('load.own.none', { vessel: vesselName(row) || t('type.H') }) : t('load.own.words', { share: share(own.bad, own.bags), bad: own.bad, bags: own.bags, loads: own.loads, vessel: vesselName(row) || t('type.H'), way: row['way'] ? t(`choice.way.${String(row['way'])}`) : t('load.way.none') })}</p>
      <p class="small quiet">{t('load.own.basis')}</p>
    </section>
  );
}

/** What its temperature log was worth, where one was read. F0 alone never fails a steamed load. */
export function LogCard({ code, row }: { code: string; row: RefRow }) {
  const f0 = figure(row, 'f0');
  const curve = drawn(row);
  const minutes = (name: string): string => t('load.span.min', { min: figure(row, name) ?? 0 });
  return (
    <section class="card" aria-label={t('load.log')}>
      <h2>{t('load.log')}</h2>
      {f0 === null ? <p class="quiet">{t('load.log.none')}</p> : (
        <dl class="facts">
          <dt>{t('field.load_logged.f0')}</dt><dd>{t('load.log.f0', { f0: num(f0 / 100), ref: temperature(figure(row, 'ref') ?? 12_110), z: (figure(row, 'z') ?? 1_000) / 100 })}</dd>
          {figure(row, 'held_min') !== null && <><dt>{t('field.load_logged.held_min')}</dt><dd>{t('load.log.held', { time: minutes('held_min'), limit: temperature(figure(row, 'limit') ?? 0) })}</dd></>}
          {figure(row, 'arrived_min') !== null && (figure(row, 'held_min') ?? 1) > 0 && <><dt>{t('field.load_logged.arrived_min')}</dt><dd>{minutes('arrived_min')}</dd></>}
          {typeof row['coldest'] === 'string' && <><dt>{t('field.load_logged.coldest')}</dt><dd dir="auto">{row['coldest']}</dd></>}
          {figure(row, 'highest') !== null && <><dt>{t('field.load_logged.highest')}</dt><dd>{temperature(figure(row, 'highest') ?? 0)}</dd></>}
          {(figure(row, 'faults') ?? 0) > 0 && <><dt>{t('field.load_logged.faults')}</dt><dd>{figure(row, 'faults')}</dd></>}
        </dl>
      )}
      {f0 !== null && isSteamed(row) && <p>{t('load.log.steamed')}</p>}
      {curve && <LoadCurve score={curve} clock="since" />}
      <div class="row row-acts"><a class="btn grow" href={to('load-log', code)}>{t('load.log.read')}</a><a class="btn grow" href={to('load-table', code)}>{t('load.log.table')}</a></div>
    </section>
  );
}
