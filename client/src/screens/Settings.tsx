/** This device: its pairing, language, units, light, hand; what waits to be sent; whether storage is kept. */
import { useEffect, useState } from 'preact/hooks';
import type { PairingCode } from '../app-types';
import { LANGUAGES, language, choiceName, speak, t, type Language } from '../i18n';
import { age, units, when, type Units } from '../i18n/format';
import { app, hand, helper, theme, type Hand, type Theme } from '../ui/app';
import { errorWords, saving } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { personName } from '../ui/names';
import { to } from '../ui/route';
import { Mark } from '../ui/Mark';
import { say } from '../ui/toast';
import { applyUpdate, shellState } from '../sw-bridge';
import { CertHint } from '../ui/CertHint';
import { FileCard } from './FileCard';
import { HealthCard } from './Health';
import { PairQr } from './PairQr';
import { PutBack, SafetyCard } from './SafetyCard';
import { Head } from './parts';

export function Settings() {
  const a = app();
  const device = a.device.value;
  const { count, oldest } = a.unsent.value;
  const link = a.link.value;
  return (
    <main class="screen" id="main">
      <Head title={t('screen.settings')} />
      {device && device.role !== 'worker' && <PutBack />}
      <div class="sides">
        <div>
          <section class="card">
            <h2>{t('settings.sending')}</h2>
            <dl class="facts">
              <dt>{t('settings.unsent')}</dt><dd>{count ? t('settings.unsent.some', { n: count, age: oldest === null ? '' : age(oldest) }) : t('status.all_sent')}</dd>
              <dt>{t('settings.link')}</dt><dd>{t(`link.${link.state}`)}{link.heard !== null ? ` · ${t('settings.heard', { when: when(link.heard) })}` : ''}</dd>
            </dl>
            {link.state !== 'ok' && <p class="small">{t(`link.${link.state}.todo`)}</p>}
            {link.message && <p class="small quiet" dir="auto">{link.message}</p>}
            <CertHint />
          </section>
          <Shell />
          {device && <FileCard />}
          {device && (
            <section class="card">
              <h2>{t('settings.device')}</h2>
              <dl class="facts">
                <dt>{t('settings.farm')}</dt><dd dir="auto">{device.name} <span class="code">{device.tag}</span></dd>
                <dt>{t('settings.who')}</dt><dd dir="auto">{personName(device.by)} ({choiceName('role', device.role)})</dd>
                <dt>{t('settings.letter')}</dt><dd>{device.letter}</dd>
                <dt>{t('settings.zone')}</dt><dd>{device.zone}</dd>
                <dt>{t('settings.version')}</dt><dd>{a.version}</dd>
              </dl>
              <a class="btn" href={to('people')}>{t('people.title')}</a>
            </section>
          )}
          {device && device.role !== 'worker' && <PairOther />}
          {device && device.role !== 'worker' && <SafetyCard />}
          {device && device.role !== 'worker' && <HealthCard />}
        </div>
        <div>
          <ChoiceGrid label={t('settings.theme')} value={theme.value} onPick={(v) => { theme.value = v as Theme; }}
            options={(['auto', 'light', 'dim'] as const).map((v) => ({ value: v, name: t(`settings.theme.${v}`) }))} />
          <ChoiceGrid label={t('settings.language')} value={language.value} onPick={(v) => void speak(v as Language)}
            options={LANGUAGES.map((v) => ({ value: v, name: t(`settings.language.${v}`) }))} />
          <ChoiceGrid label={t('settings.units')} value={units.value} onPick={(v) => { units.value = v as Units; }}
            options={(['metric', 'us'] as const).map((v) => ({ value: v, name: t(`settings.units.${v}`) }))} />
          <ChoiceGrid label={t('settings.hand')} value={hand.value} onPick={(v) => { hand.value = v as Hand; }}
            options={(['right', 'left'] as const).map((v) => ({ value: v, name: t(`settings.hand.${v}`) }))} />
          <ChoiceGrid label={t('settings.acts')} value={helper.value ? 'four' : 'all'} onPick={(v) => { helper.value = v === 'four'; }}
            options={(['all', 'four'] as const).map((v) => ({ value: v, name: t(`settings.acts.${v}`), about: t(`settings.acts.${v}.about`) }))} />
        </div>
      </div>
    </main>
  );
}

// Whether the browser has promised not to throw the log away, and whether the app starts with no network.
function Shell() {
  const [kept, setKept] = useState<boolean | null>(null);
  useEffect(() => { void navigator.storage?.persisted?.().then(setKept, () => setKept(null)); }, []);
  const ask = (): void => { void navigator.storage?.persist?.().then(setKept, () => setKept(false)); };
  const shell = shellState.value;
  return (
    <section class="card">
      <h2>{t('settings.storage')}</h2>
      <p><Mark kind={kept ? 'ok' : 'ask'} size={22} /> {t(kept ? 'settings.storage.kept' : 'settings.storage.not')}</p>
      {!kept && <button type="button" class="btn" onClick={ask}>{t('settings.storage.ask')}</button>}
      <p><Mark kind={shell === 'ready' || shell === 'waiting' ? 'ok' : 'ask'} size={22} /> {t(`settings.shell.${shell}`)}</p>
      {shell === 'waiting' && <button type="button" class="btn" onClick={() => { if (!applyUpdate(() => saving.value)) say('ask', t('settings.update.busy')); }}>{t('settings.update')}</button>}
    </section>
  );
}

function PairOther() {
  const [made, setMade] = useState<PairingCode | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [role, setRole] = useState('worker');
  const people = app().ref.value.people;
  const [person, setPerson] = useState('');
  const make = (): void => {
    setWrong(null);
    app().pairingCode(role, person || undefined).then(setMade, (e: unknown) => setWrong(errorWords(e)));
  };
  return (
    <section class="card">
      <h2>{t('settings.pair_other')}</h2>
      <ChoiceGrid label={t('settings.role')} value={role} onPick={setRole} options={['worker', 'manager'].map((r) => ({ value: r, name: choiceName('role', r) }))} />
      <label class="field"><span class="field-label">{t('settings.person')}</span>
        <select class="input" value={person} onChange={(e) => setPerson(e.currentTarget.value)}>
          <option value="">{t('settings.person.new')}</option>
          {Object.keys(people).map((p) => <option key={p} value={p}>{personName(p)}</option>)}
        </select></label>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {made && (
        <div class="note note-ok"><Mark kind="ok" /><strong class="code" style={{ fontSize: 'var(--t-title)' }}>{`${made.code.slice(0, 4)} ${made.code.slice(4)}`}</strong>
          <span>{t('settings.pair_until', { when: when(made.expires) })}</span><span class="small">{made.url}</span></div>
      )}
      {made && <PairQr invitation={made.invitation} />}
      <button type="button" class="btn" onClick={make}>{t('settings.pair_make')}</button>
    </section>
  );
}
