/** How safe the log is, for the owner and managers: what came back after a restore, devices to confirm, backups. */
import { useEffect, useState } from 'preact/hooks';
import type { BackupRow, DeviceRow, LogState } from '../app-types';
import { t } from '../i18n';
import '../i18n/rest';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { errorWords } from '../ui/act';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import type { DeskWork } from '../desk-work';

const READ = 'put_back_read';
const SHOWN = 6;

/** The state, and a way to ask for another: one thing at a time, failures in words. */
function useLogState() {
  const [state, setState] = useState<LogState | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [busy, setBusy] = useState('');
  const linked = app().link.value.state === 'ok';
  const ask = (what: string, work: (desk: DeskWork) => Promise<LogState>): void => {
    setBusy(what);
    setWrong(null);
    app().desk().then(work).then(setState, (e: unknown) => setWrong(errorWords(e))).finally(() => setBusy(''));
  };
  useEffect(() => { if (linked) ask('look', (desk) => desk.state()); }, [linked]);
  return { state, wrong, busy, ask, linked };
}

/** After a restore, until the owner has read it: what came back and who was not heard from; who may see again. */
export function PutBack() {
  const { state, wrong, busy, ask } = useLogState();
  const [read, setRead] = useState<number | null>(null);
  useEffect(() => { void app().store.get<number>(READ).then((at) => setRead(at ?? 0), () => setRead(0)); }, []);
  const back = state?.put_back;
  if (!state || read === null) return null;
  const waiting = state.devices.filter((d) => d.state === 'unconfirmed' || d.state === 'seen');
  if ((!back || read >= back.at) && !waiting.length) return null;
  const owner = app().device.value?.role === 'owner';
  const done = (at: number): void => { void app().store.set(READ, at).then(() => setRead(at)); };
  return (
    <section class="card" data-put-back>
      <h2>{t('safety.put_back')}</h2>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {back && <p><Mark kind={back.unheard.length ? 'ask' : 'ok'} size={22} /> {putBackWords(state)}</p>}
      {back && back.unheard.length > 0 && <p class="small">{t('safety.unheard.todo')}</p>}
      {waiting.length > 0 && (
        <>
          <p>{t('safety.unconfirmed', { n: waiting.length })}</p>
          <ul class="list with-button">
            {waiting.map((d) => (
              <li key={d.dev}><span><b dir="auto">{nameOf(d)}</b> <span class="quiet">{t('safety.heard', { when: when(d.seen) })}</span></span>
                {owner && <button type="button" class="btn" disabled={busy !== ''} onClick={() => ask('confirm', async (desk) => { await desk.confirm([d.dev]); return desk.state(); })}>{t('safety.confirm')}</button>}</li>
            ))}
          </ul>
          <p class="small quiet">{t(owner ? 'safety.unconfirmed.todo' : 'safety.ask_owner')}</p>
        </>
      )}
      {back && waiting.length === 0 && <button type="button" class="btn" onClick={() => done(back.at)}>{t('safety.read')}</button>}
    </section>
  );
}

/** The owner's plain sentence. */
export function putBackWords({ put_back: back, devices }: LogState): string {
  if (!back) return '';
  const said = [back.back_to ? t('safety.back_to', { when: when(back.back_to) }) : t('safety.back_empty'),
    t('safety.back', { n: back.records, phones: back.phones.length })];
  for (const dev of back.unheard) {
    const device = devices.find((d) => d.dev === dev);
    said.push(t('safety.unheard', { name: device ? nameOf(device) : dev, n: device?.waiting ?? 0 }));
  }
  return said.join(' ');
}

export function SafetyCard() {
  const { state, wrong, busy, ask, linked } = useLogState();
  const owner = app().device.value?.role === 'owner';
  return (
    <section class="card" data-safety>
      <h2>{t('safety.title')}</h2>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!state && !wrong && <p class="quiet">{t(linked ? 'health.wait' : 'health.unlinked')}</p>}
      {state && <p><Mark kind={state.durable ? 'ok' : 'ask'} size={22} /> {t(state.durable ? 'safety.durable' : 'safety.phones_only', { safe: state.durable, head: state.head })}</p>}
      {state?.two_servers && <p><Mark kind="ask" size={22} /> {t('safety.two_servers')}</p>}
      {state?.backups.length === 0 && <p>{t('health.no_backups')}</p>}
      <ul class="list with-button">
        {state?.backups.slice(0, SHOWN).map((b) => (
          <li key={b.name} data-backup={b.name}><span><b>{when(b.at)}</b> {t('safety.holds', { n: b.pos })}<br />
            <Mark kind={b.counts ? 'ok' : 'ask'} size={18} /> {t(`safety.backup.${standing(b)}`)}</span>
            {owner && standing(b) === 'here' && (
              <button type="button" class="btn" disabled={busy !== ''} onClick={() => ask('away', (desk) => desk.copiedAway(b.name))}>{t('safety.away')}</button>
            )}</li>
        ))}
      </ul>
      {state && state.durable === 0 && <p class="small">{t('safety.why_two')}</p>}
      {owner && state && <button type="button" class="btn btn-wide" disabled={busy !== ''} onClick={() => ask('make', (desk) => desk.backUp())}>{t(busy === 'make' ? 'safety.making' : 'safety.make')}</button>}
    </section>
  );
}

/** Whether a backup counts, and if not why. */
function standing(b: BackupRow): 'bad' | 'unverified' | 'gone' | 'here' | 'other' | 'away' | 'elsewhere' {
  if (b.fault) return 'bad';
  if (!b.verified) return 'unverified';
  if (b.counts) return b.away ? 'away' : 'elsewhere';
  if (b.away) return 'other'; // not on the chain of the log as it is now
  if (b.gone) return 'gone';
  return b.elsewhere ? 'other' : 'here';
}

const nameOf = (d: DeviceRow): string => d.name || t('safety.device', { letter: d.letter || d.dev.slice(0, 5) });
