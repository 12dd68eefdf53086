/** One record closes a load: how it went, what was measured, when the heat went off. It may be told again, on record. */
import { useState } from 'preact/hooks';
import type { Happened, RefRow } from '../app-types';
import { t } from '../i18n';
import { units } from '../i18n/format';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { HappenedEarlier } from '../ui/Happened';
import { Amount } from './mixwords';
import { figure, isOpen, loadName, type LoadState } from './loads';
import { programmeOf } from './programme';

export function LoadClose({ code, row, state, n }: { code: string; row: RefRow; state: LoadState; n: number }) {
  const open = isOpen(state);
  if (!open) {
    return <details class="card"><summary>{t('load.again')}</summary><Close code={code} row={row} again /></details>;
  }
  if (n === 0) return null;
  return <section class="card" aria-label={t('load.close')}><h2>{t('load.close')}</h2><Close code={code} row={row} /></section>;
}

function Close({ code, row, again = false }: { code: string; row: RefRow; again?: boolean }) {
  const [result, setResult] = useState<string | null>(null);
  const [hold, setHold] = useState(String(figure(row, 'hold_min') ?? ''));
  const [temp, setTemp] = useState<number | null>(figure(row, 'temp'));
  const [gauge, setGauge] = useState<number | null>(figure(row, 'gauge_pa'));
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const minutes = /^\d{1,4}$/.test(hold.trim()) ? Number(hold) : null;
  const wrong = hold.trim() !== '' && minutes === null;
  const close = async (): Promise<void> => {
    if (!result || wrong || at === 'future') return;
    const off = at?.ms ?? (again ? figure(row, 'off') : Date.now());
    const d = again ? { result } : {
      ...programmeOf(row), result, ...(minutes !== null ? { hold_min: minutes } : {}), ...(temp !== null ? { temp } : {}), ...(gauge !== null ? { gauge_pa: gauge } : {}), ...(off !== null ? { off } : {}),
    };
    await save([{ ty: 'load.ran', sub: [code], d }], t('load.told', { name: loadName(code), result: t(`load.state.${result}`) }));
  };
  return (
    <form class="stack" onSubmit={(e) => { e.preventDefault(); void close(); }}>
      <ChoiceGrid single label={t('load.result')} value={result} onPick={setResult}
        options={(['passed', 'failed', 'unsure'] as const).map((value) => ({ value, name: t(`load.state.${value}`), about: t(`load.result.${value}`) }))} />
      {!again && (
        <>
          <label class="field"><span class="field-label">{t('field.load_ran.hold_min')}</span>
            <span class="input-unit"><input class="input" inputMode="numeric" autoComplete="off" value={hold} onInput={(e) => setHold(e.currentTarget.value)} /><span>min</span></span>
            {wrong && <span class="wrong" role="alert">{t('load.minutes_wrong')}</span>}
          </label>
          <Amount key={`t${units.value}`} label={t('field.load_ran.temp')} hint={t('field.load_ran.temp.hint')} quantity="temperature" value={temp} onChange={setTemp} />
          {row['way'] !== 'atmospheric' && <Amount key={`g${units.value}`} label={t('field.load_ran.gauge_pa')} quantity="pressure" value={gauge} onChange={setGauge} />}
          <p class="small">{t('load.off.hint')}</p>
          <HappenedEarlier onChange={setAt} />
        </>
      )}
      <button class="btn btn-first" disabled={!result}>{t('load.close.save')}</button>
    </form>
  );
}
