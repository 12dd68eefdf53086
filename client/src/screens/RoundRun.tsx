/** A round as it runs: what it is for, what the last scan came to, and nothing to touch unless something is asked. */
import type { ReadonlySignal } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import { choiceName, num, t } from '../i18n';
import { weight } from '../i18n/format';
import { KINDS } from '../catalogue';
import { reminders } from '../round/order';
import { purposeOf } from '../round/purposes';
import type { Told } from '../round/machine';
import type { Round, Taken } from '../round/state';
import { Viewfinder } from '../scan/Viewfinder';
import { app } from '../ui/app';
import { Care } from '../ui/Care';
import { ChoiceGrid } from '../ui/Choice';
import { CodeEntry } from '../ui/CodeEntry';
import { Icon } from '../ui/Icon';
import { known } from '../ui/known';
import { Keypad, keypadUnits } from '../ui/Keypad';
import { useAnswer } from '../ui/load';
import { Lens } from '../ui/Lens';
import { Mark } from '../ui/Mark';
import { anyName, placePath } from '../ui/names';
import { AskNote } from '../ui/Notes';
import { PlacePicker, SpawnPicker } from '../ui/Pick';
import { go, goInstead } from '../ui/route';
import { driver, sound, takeReading } from '../ui/round';
import { useScan } from '../ui/scanning';
import { useWake } from '../ui/wake';
import { parseWeight } from '../ui/weight';
import { Head, Loading } from './parts';

const SHAPES: Record<Exclude<Told['outcome'], 'set'>, 'ok' | 'ask' | 'bad'> = { taken: 'ok', before: 'ask', misfit: 'bad', ask: 'ask' };
const MARK_PX = 52;
const LAST = 6;
/** How long the next scan waits for the screen that a card leads to, ms. */
const CARD_MS = 3_000;
/** Upper bounds of the catalogue: grams of a pick, bags of a filling. */
const MOST = { g: 10_000_000, n: 100_000 };
/** Up to here the screen is a phone's, where the camera is the scanner. */
const DESK_PX = 960;

/** When this device's person last wrote that a bag was contaminated. */
async function lastBad(): Promise<number | null> {
  const me = app().device.value?.by;
  const found = (await app().records(500)).find(({ line, voided }) => line.k === 'bag.contaminated' && line.by === me && !voided);
  return found?.line.t ?? null;
}

/** `args`: a purpose, and perhaps its target, begin a round at once: the address that a fixed scanner's tablet opens. */
export function RoundRun({ purpose, target }: { purpose?: string | undefined; target?: string | undefined }) {
  const d = driver();
  const [ready, setReady] = useState(false);
  useEffect(() => {
    const begin = async (): Promise<void> => {
      const now = d.round.value ?? await d.resume();
      const same = now && now.purpose === purpose && (!target || now.target === target);
      const stick = purpose === 'adopt' && target;
      if (purpose && !same) await d.begin(purpose, target && !stick ? { target } : {});
      // Which group of a batch the labels come out of, and the next number, follow from its scan.
      if (stick && !same) await d.scan(target);
      if (!d.round.value) goInstead('rounds');
      // The address with a purpose would begin again at each reload.
      else if (purpose) goInstead('round');
      setReady(true);
    };
    void begin();
  }, [purpose, target]);
  const round = d.round.value;
  if (!ready || !round) return <main class="screen" id="main"><Loading /></main>;
  return <Running round={round} />;
}

/** Resolves when a signal is empty, or after a while. */
async function cleared(of: ReadonlySignal<unknown>, mostMs: number): Promise<void> {
  let stop = (): void => undefined;
  await new Promise<void>((done) => {
    stop = of.subscribe((value) => { if (!value) done(); });
    setTimeout(done, mostMs);
  });
  stop();
}

function Running({ round }: { round: Round }) {
  const d = driver();
  const purpose = purposeOf(round.purpose);
  const taken = d.taken.value;
  const open = d.open(round);
  const missing = d.missing(round);
  const [camera, setCamera] = useState(innerWidth < DESK_PX);
  const mould = useAnswer(lastBad, [round.id]);
  useWake();
  useScan(async (code, again) => {
    // A fixed scanner reads what lies before it over and over: that is one scan.
    if (again && code === d.taken.value.at(-1)?.code) return;
    sound(await d.scan(code));
  }, undefined, true);
  useScan(async (code) => {
    sound(await d.scan(code));
    // The next scan is for the screen that the card leads to.
    await cleared(d.then, CARD_MS);
  }, 'X', true);
  const then = d.then.value;
  useEffect(() => {
    if (!then || then === 'undo') return;
    d.then.value = null;
    if (then === 'end') goInstead('round-end');
    else if (then.purpose === 'seek' || then.purpose === 'sweep') go(then.purpose);
    else goInstead('round', then.purpose);
  }, [then]);

  const bags = taken.reduce((n, line) => n + line.n, 0) + round.held.length;
  const grams = purpose.figure === 'g' ? taken.reduce((n, line) => n + (line.figure ?? 0), 0) : 0;
  const targetName = round.target ? (round.target.startsWith('P') ? placePath(round.target) : anyName(round.target)) : '';
  return (
    <main class="screen round-screen" id="main" {...(missing ? { 'data-wants': missing } : {})}>
      <Head title={t(`purpose.${round.purpose}`)} sub={[targetName, ...purpose.choices.map((c) => (c in round.d ? choiceName(c, String(round.d[c])) : '')), round.flush ? t('round.flush', { n: round.flush }) : '', round.from ? t('round.from', { name: round.from.name }) : '', round.whole ? t('round.whole', { name: anyName(round.whole) }) : ''].filter(Boolean).join(' · ') || undefined}>
        <output class="round-count" aria-label={t('round.count.about')}><b>{num(bags)}</b>{grams ? <span>{weight(grams)}</span> : null}</output>
      </Head>
      <div class="sides">
        <div class="stack">
          <Say told={d.told.value} />
          {open && (
            <AskNote what={t(`round.ask.${open.reason}`, { name: open.name })}>
              <div class="row row-acts">
                <button type="button" class="btn grow" onClick={() => void d.answer(true).then(sound)}>{t(`round.ask.${open.reason}.yes`)}</button>
                <button type="button" class="btn grow" onClick={() => void d.answer(false).then(sound)}>{t('round.ask.no')}</button>
              </div>
            </AskNote>
          )}
          {!open && purpose.figure && round.waiting[0] && <Figure round={round} name={round.waiting[0].name} kind={purpose.figure} />}
          {camera && <Viewfinder farmTag={app().device.value?.tag ?? null} known={known} onReading={takeReading} extra={(track) => <Lens track={track} />} />}
          {missing && missing.length > 1 && <Choices field={missing} ty={purpose.ty} value={null} />}
          {missing === 'S' && <SpawnPicker label={t('round.target.S')} value={null} onPick={(c) => void d.scan(c).then(sound)} />}
          {missing === 'P' && <PlacePicker label={t('round.target.P')} value={null} onPick={(c) => void d.scan(c).then(sound)} />}
          {(missing === 'H' || missing === 'G') && <p><b>{t(`round.target.${missing}`)}</b></p>}
          {round.purpose === 'load' && round.target && taken.length > 0 && <Choices field="result" ty="load.ran" value={(round.d['result'] as string | undefined) ?? null} />}
        </div>
        <div class="stack">
          {reminders(round.purpose, mould ?? null, Date.now()).map((word) => (
            <p class="note note-care" key={word}><Mark kind="care" /><span>{t(`round.order.${word}`)}</span></p>
          ))}
          <Care key={purpose.ty} of={purpose.ty} />
          <div class="row row-acts round-acts">
            <button type="button" class="btn grow" disabled={taken.length === 0 && round.waiting.length + round.held.length === 0} onClick={() => void d.command('undo').then(sound)}><Icon name="undo" />{t('round.undo')}</button>
            <button type="button" class="btn grow btn-act" onClick={() => void d.command('done').then(sound)}>{t(round.whole ? 'round.write_whole' : 'round.end')}</button>
          </div>
          <CodeEntry onCode={(code) => void d.scan(code).then(sound)} />
          {taken.length + round.held.length > 0 && (
            <ul class="list" aria-label={t('round.lines')}>
              {round.held.slice(-LAST).reverse().map((fact) => <li key={fact.code}><div class="item-still"><span dir="auto">{fact.name}</span><span class="tag">{t(round.whole !== null ? 'round.excepted' : 'round.in_load')}</span></div></li>)}
              {taken.slice(-LAST).reverse().map((line) => <LineItem key={line.records[0]?.id} line={line} />)}
            </ul>
          )}
          <details class="card">
            <summary>{t('round.more')}</summary>
            <div class="stack">
              <button type="button" class="btn" onClick={() => setCamera(!camera)}>{t(camera ? 'scan.close' : 'scan.open')}</button>
              {purpose.whole && round.whole === null && <button type="button" class="btn" onClick={() => void d.command('all_but').then(sound)}>{t('round.all_but')}</button>}
              {purpose.choices.filter((c) => c in round.d || !purpose.must.includes(c)).map((c) => <Choices key={c} field={c} ty={purpose.closes ?? purpose.ty} value={(round.d[c] as string | undefined) ?? null} />)}
              {round.purpose === 'pick' && <Flush value={round.flush} />}
              <button type="button" class="btn" onClick={() => go('rounds')}>{t('round.other')}</button>
            </div>
          </details>
        </div>
      </div>
    </main>
  );
}

/** A shape for each outcome; what is set and waits for scans is an open ring with a dot, no warning. */
export function OutcomeMark({ outcome }: { outcome: Told['outcome'] }) {
  if (outcome !== 'set') return <Mark kind={SHAPES[outcome]} size={MARK_PX} />;
  return (
    <svg width={MARK_PX} height={MARK_PX} viewBox="0 0 32 32" aria-hidden="true">
      <circle cx="16" cy="16" r="13.5" fill="none" stroke="currentColor" stroke-width="3" stroke-dasharray="14.2 7" />
      <circle cx="16" cy="16" r="4" fill="currentColor" />
    </svg>
  );
}

/** The last step, told large: read from arm's length, and aloud by a screen reader. */
function Say({ told }: { told: (Told & { nth: number }) | null }) {
  return (
    <div aria-live="assertive" class="round-say">
      {told
        ? <div key={told.nth} class={`round-told round-${told.outcome}`} data-outcome={told.outcome}><OutcomeMark outcome={told.outcome} /><div><strong>{t(`round.word.${told.outcome}`)}</strong><span dir="auto">{t(told.id, told.params)}</span></div></div>
        : <div class="round-told round-set"><OutcomeMark outcome="set" /><div><strong>{t('round.word.ready')}</strong><span>{t('round.ready')}</span></div></div>}
    </div>
  );
}

function LineItem({ line }: { line: Taken }) {
  const grams = purposeOf(driver().round.value?.purpose ?? 'look').figure === 'g';
  const figure = line.figure === undefined ? '' : ` · ${grams ? weight(line.figure) : num(line.figure)}`;
  return (
    <li><div class="item-still"><span dir="auto">{line.name}{figure}{line.n > 1 ? ` · ${t('name.bags', { n: line.n })}` : ''}</span>
      <button type="button" class="btn btn-icon" aria-label={t('round.undo_line', { name: line.name })} onClick={() => void driver().undo(line)}><Icon name="undo" /></button></div></li>
  );
}

export { LineItem };

function Choices({ field, ty, value }: { field: string; ty: string; value: string | null }) {
  const words = KINDS.get(ty)?.fields.find((f) => f.name === field)?.choices ?? [];
  return <ChoiceGrid label={t(`round.choose.${field}`)} value={value} onPick={(word) => void driver().command(`${field}.${word}`).then(sound)} options={words.map((word) => ({ value: word, name: choiceName(field, word) }))} />;
}

function Flush({ value }: { value: number | null }) {
  return <ChoiceGrid label={t('round.choose.flush')} value={value === null ? null : String(value)} onPick={(n) => void driver().command(`flush.${n}`).then(sound)} options={['1', '2', '3', '4', '5', '6'].map((n) => ({ value: n, name: n }))} />;
}

function Figure({ round, name, kind }: { round: Round; name: string; kind: 'g' | 'n' }) {
  const [unit, setUnit] = useState(keypadUnits()[0] ?? 'g');
  const [text, setText] = useState(round.digits);
  const [tried, setTried] = useState(false);
  useEffect(() => setText(round.digits), [round.digits]);
  const weighed = parseWeight(text, kind === 'n' ? 'g' : unit, MOST[kind]);
  const save = (): void => {
    setTried(true);
    if (weighed.kind !== 'grams') return;
    void driver().figure(weighed.grams).then(sound);
    setText('');
    setTried(false);
  };
  if (kind === 'n') {
    return (
      <form class="card" onSubmit={(e) => { e.preventDefault(); save(); }}>
        <label class="field"><span class="field-label" dir="auto">{t('round.figure.n', { name })}</span>
          <span class="input-unit"><input class="input" inputMode="numeric" value={text} onInput={(e) => setText(e.currentTarget.value)} /><button class="btn">{t('round.figure.save')}</button></span></label>
      </form>
    );
  }
  return (
    <section class="card">
      <h2 dir="auto">{name}</h2>
      <Keypad text={text} unit={unit} weighed={weighed} onText={setText} onUnit={setUnit} label={t('round.figure.g', { name })} tried={tried} save={t('round.figure.save')} busy={false} onSave={save} />
    </section>
  );
}
