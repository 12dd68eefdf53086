/**
 * People and devices: who works at this tablet now, the PINs that tell people apart, the devices with their keys.
 * A farm of one person sees its devices and nothing of roles or PINs.
 */
import { useEffect, useState } from 'preact/hooks';
import type { Entered, PairingCode } from '../app-types';
import { AppError } from '../app-types';
import { choiceName, t } from '../i18n';
import '../i18n/rest';
import { when } from '../i18n/format';
import { errorWords } from '../ui/act';
import { app } from '../ui/app';
import { ChoiceGrid } from '../ui/Choice';
import { Mark } from '../ui/Mark';
import { personName } from '../ui/names';
import { AskNote, ErrorNote } from '../ui/Notes';
import { say } from '../ui/toast';
import { PairQr } from './PairQr';
import { fileWords } from './filewords';
import { Head } from './parts';

interface Row {
  dev: string;
  name: string;
  role: string;
  person: string;
  state: 'paired' | 'revoked' | 'seen' | 'unconfirmed';
  seen: number;
  waiting: number;
}
type Wrong = { what: string; todo: string } | null;

const PIN = /^[0-9]{4,8}$/;

export function People() {
  const device = app().device.value;
  const people = Object.keys(app().ref.value.people).sort();
  const several = people.length > 1;
  const boss = device !== null && device.role !== 'worker';
  return (
    <main class="screen" id="main">
      <Head title={t('people.title')} />
      {several && device && (device.raised || device.role === 'worker') && <Change people={people} now={device.by} role={device.raised ? device.role : ''} />}
      {boss && <Devices owner={device.role === 'owner'} own={device.dev} />}
      {several && device && <SetPin people={boss ? people : [device.by]} />}
      <SignOut />
    </main>
  );
}

/** Digits only, dots for whoever looks over the shoulder, and no password manager's offer. */
function PinField({ value, onValue }: { value: string; onValue: (pin: string) => void }) {
  return (
    <label class="field"><span class="field-label">{t('people.pin')}</span>
      <input class="input" type="password" inputMode="numeric" autocomplete="off" maxLength={8} value={value}
        onInput={(e) => onValue(e.currentTarget.value)} />
      <span class="small quiet">{t('people.pin.about')}</span></label>
  );
}

const pinWrong = (pin: string): Wrong =>
  PIN.test(pin) ? null : { what: t('people.pin.wrong'), todo: t('people.pin.wrong.todo') };

// With no network the tablet takes the person's word: a PIN says who, and guards nothing.
function Change({ people, now, role }: { people: string[]; now: string; role: string }) {
  const [person, setPerson] = useState<string | null>(null);
  const [pin, setPin] = useState('');
  const [wrong, setWrong] = useState<Wrong>(null);
  const [busy, setBusy] = useState(false);
  const change = async (): Promise<void> => {
    const bad = pinWrong(pin);
    setWrong(bad);
    if (bad || !person) return;
    setBusy(true);
    try {
      const entered = await app().ask('/api/people/enter', { person, pin }).then((said) => said as unknown as Entered, (error: unknown) => {
        if (error instanceof AppError && error.code === 'offline') return undefined;
        throw error;
      });
      const checked = entered !== undefined;
      await app().stand(person, entered);
      say(checked ? 'ok' : 'ask', t(checked ? 'people.entered' : 'people.offline', { name: personName(person) }));
      setPerson(null);
    } catch (error) {
      setWrong(errorWords(error));
    }
    setPin('');
    setBusy(false);
  };
  return (
    <section class="card" data-part="who">
      <p><Mark kind="ok" size={22} /> {t('people.current', { name: personName(now) })}</p>
      {role && <p class="small">{t('people.raised', { role: choiceName('role', role) })}</p>}
      <ChoiceGrid label={t('people.who')} value={person} onPick={setPerson} options={people.map((p) => ({ value: p, name: personName(p) }))} />
      {person && <PinField value={pin} onValue={setPin} />}
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {person && <button type="button" class="btn btn-main" disabled={busy} onClick={() => void change()}>{t('people.enter')}</button>}
    </section>
  );
}

function SetPin({ people }: { people: string[] }) {
  const [person, setPerson] = useState(people[0] ?? '');
  const [pin, setPin] = useState('');
  const [wrong, setWrong] = useState<Wrong>(null);
  const keep = (): void => {
    const bad = pinWrong(pin);
    setWrong(bad);
    if (bad) return;
    app().ask('/api/people/pin', { person, pin })
      .then(() => { setPin(''); say('ok', t('people.pin.kept')); }, (error: unknown) => setWrong(errorWords(error)));
  };
  return (
    <section class="card" data-part="pins">
      <h2>{t('people.pins')}</h2>
      <label class="field"><span class="field-label">{t('people.pin.for')}</span>
        <select class="input" value={person} onChange={(e) => setPerson(e.currentTarget.value)}>
          {people.map((p) => <option key={p} value={p}>{personName(p)}</option>)}
        </select></label>
      <PinField value={pin} onValue={setPin} />
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      <button type="button" class="btn" onClick={keep}>{t('people.pin.keep')}</button>
    </section>
  );
}

function Devices({ owner, own }: { owner: boolean; own: string }) {
  const [rows, setRows] = useState<Row[] | null>(null);
  const [wrong, setWrong] = useState<Wrong>(null);
  const linked = app().link.value.state === 'ok';
  const look = (path: string, body?: object): void => {
    setWrong(null);
    app().ask(path, body).then(
      (found) => { if (Array.isArray(found['devices'])) setRows(found['devices'] as Row[]); else look('/api/devices'); },
      (error: unknown) => setWrong(errorWords(error)),
    );
  };
  useEffect(() => { if (linked) look('/api/devices'); }, [linked]);
  return (
    <section class="card" data-part="devices">
      <h2>{t('people.devices')}</h2>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!rows && !wrong && <p class="quiet">{t('people.devices.unlinked')}</p>}
      {rows?.map((row) => <Device key={row.dev} row={row} owner={owner} own={row.dev === own} look={look} />)}
    </section>
  );
}

function Device({ row, owner, own, look }: { row: Row; owner: boolean; own: boolean; look: (path: string, body?: object) => void }) {
  const [asking, setAsking] = useState(false);
  const [made, setMade] = useState<PairingCode | null>(null);
  const [wrong, setWrong] = useState<Wrong>(null);
  const name = row.name || row.dev;
  const may = owner || row.role !== 'owner';
  const revoke = (why: string): void => { setAsking(false); look('/api/devices/revoke', { dev: row.dev, why }); };
  const again = (): void => {
    setWrong(null);
    app().pairingCode(row.role, row.person || undefined).then(setMade, (error: unknown) => setWrong(errorWords(error)));
  };
  return (
    <div class="stack" data-dev={row.dev}>
      <h3 dir="auto">{name}{own && ` (${t('people.own')})`}</h3>
      <p class="small">{[personName(row.person), row.role && choiceName('role', row.role), t(`people.state.${row.state}`), when(row.seen)].filter(Boolean).join(' · ')}
        {row.waiting > 0 && ` · ${t('people.device.waits', { n: row.waiting })}`}</p>
      {asking && (
        <AskNote what={t('people.revoke.ask', { name })}>
          <button type="button" class="btn" onClick={() => revoke('lost')}>{t('people.revoke.lost')}</button>
          <button type="button" class="btn" onClick={() => revoke('replaced')}>{t('people.revoke.replaced')}</button>
          <button type="button" class="btn" onClick={() => setAsking(false)}>{t('people.revoke.no')}</button>
        </AskNote>
      )}
      {made && (
        <div class="note note-ok"><Mark kind="ok" /><strong class="code" style={{ fontSize: 'var(--t-title)' }}>{`${made.code.slice(0, 4)} ${made.code.slice(4)}`}</strong>
          <span>{t('settings.pair_until', { when: when(made.expires) })}</span></div>
      )}
      {made && <PairQr invitation={made.invitation} />}
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {owner && (row.state === 'seen' || row.state === 'unconfirmed')
        && <button type="button" class="btn" onClick={() => look('/api/devices/confirm', { devices: [row.dev] })}>{t('people.confirm')}</button>}
      {!own && may && !asking && row.state !== 'revoked' && <button type="button" class="btn" onClick={() => setAsking(true)}>{t('people.revoke')}</button>}
      {!own && may && row.role && <button type="button" class="btn" onClick={again}>{t('people.repair')}</button>}
    </div>
  );
}

function SignOut() {
  const [asking, setAsking] = useState(false);
  const [wrong, setWrong] = useState<Wrong>(null);
  const out = (): void => {
    setAsking(false);
    setWrong(null);
    app().signOut().catch((error: unknown) => setWrong(fileWords(error)));
  };
  return (
    <section class="card" data-part="signout">
      <h2>{t('people.signout')}</h2>
      <p class="small quiet">{t('people.signout.about')}</p>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {asking
        ? <AskNote what={t('people.signout.ask')}><button type="button" class="btn" onClick={out}>{t('people.signout.yes')}</button>
          <button type="button" class="btn" onClick={() => setAsking(false)}>{t('people.revoke.no')}</button></AskNote>
        : <button type="button" class="btn" onClick={() => setAsking(true)}>{t('people.signout')}</button>}
    </section>
  );
}
