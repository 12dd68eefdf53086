/** The pot at the farm's altitude: the gauge pressure that a temperature needs here, and what trapped air does to it. */
import { useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { pressure, temperature, units } from '../i18n/format';
import { pot, trappedAir } from '../trade/steam';
import { app } from '../ui/app';
import { Mark } from '../ui/Mark';
import { to } from '../ui/route';
import { Amount, attempt, tell } from './mixwords';

/** 121 °C, in 0.01 °C: what most programmes for pressure name. */
export const USUAL = 12_100;

/** The farm's altitude in m, or null where nobody has said it. */
export const altitude = (): number | null => {
  const m = app().ref.value.settings['altitude_m'];
  return typeof m === 'number' ? m : null;
};

const both = (pa: number): string => `${num(Math.round(pa / 100) / 10)} kPa (${num(Math.round((pa / 6_894.757) * 10) / 10)} psi)`;

/** `temp`: what the vessel's programme asks for, 0.01 °C. */
export function Pressure({ temp: first }: { temp?: number | null }) {
  const [temp, setTemp] = useState<number | null>(first ?? USUAL);
  const [gauge, setGauge] = useState<number | null>(null);
  const [core, setCore] = useState<number | null>(null);
  const at = altitude();
  const sum = attempt(() => pot((at ?? 0) * 1_000, temp ?? USUAL));
  const air = gauge === null || core === null ? null : attempt(() => trappedAir(gauge, core / 100, at ?? 0));
  return (
    <details class="card">
      <summary><span>{t('pressure.title')}{'ok' in sum && <b> · {both(sum.ok.gauge_pa)}</b>}</span></summary>
      <div class="stack">
        {at === null && <p class="note note-ask"><Mark kind="ask" size={24} /><span>{t('pressure.no_altitude')} <a href={to('vessels')}>{t('vessels.title')}</a></span></p>}
        {'wrong' in sum ? <p class="wrong" role="alert">{sum.wrong}</p> : (
          <>
            <p style={{ fontSize: 'var(--t-lead)', fontWeight: 650 }}>{t('pressure.needed', { gauge: both(sum.ok.gauge_pa), temp: temperature(sum.ok.temp), altitude: tell((at ?? 0) * 1_000, 'length') })}</p>
            <p>{t('pressure.boils', { temp: temperature(sum.ok.boils), air: pressure(sum.ok.air_pa) })}</p>
          </>
        )}
        <Amount key={`t${units.value}`} label={t('pressure.temp')} quantity="temperature" value={temp} onChange={setTemp} />
        <p class="note note-care"><Mark kind="care" size={24} /><span>{t('pressure.air')}</span></p>
        <Amount key={`g${units.value}`} label={t('pressure.gauge')} quantity="pressure" value={gauge} onChange={setGauge} />
        <Amount key={`c${units.value}`} label={t('pressure.core')} quantity="temperature" value={core} onChange={setCore} />
        {air && 'wrong' in air && <p class="wrong" role="alert">{air.wrong}</p>}
        {air && 'ok' in air && (air.ok === null
          ? <p class="note note-ok" role="status"><Mark kind="ok" size={24} /><span>{t('pressure.agrees')}</span></p>
          : <p class="note note-ask" role="alert"><Mark kind="ask" size={24} /><span>{t(`pressure.${air.ok.code}`, { temp: temperature(Number(air.ok.values['temp'])), should_be: temperature(Number(air.ok.values['should_be'])) })}</span></p>)}
        <p class="small quiet">{t('pressure.basis')}</p>
      </div>
    </details>
  );
}
