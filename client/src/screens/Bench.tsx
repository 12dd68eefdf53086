/** The bench: scan a bag, lay the crate on the scale, and it is saved. Scale, question, totals, and the way by hand. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { BenchRun, UNITS, type Purpose, type When } from '../bench/run';
import { keepBench, readBench, type From } from '../bench/kept';
import { t } from '../i18n';
import { num } from '../i18n';
import { weight } from '../i18n/format';
import { openFarm } from '../scale/farm';
import { readLine, type ScaleUnit } from '../scale/lines';
import { BAUDS, openSerial, serialOf } from '../scale/serial';
import type { Source, SourceState } from '../scale/source';
import { app } from '../ui/app';
import { newRound, saving } from '../ui/act';
import { Care } from '../ui/Care';
import { ChoiceGrid } from '../ui/Choice';
import { CodeEntry } from '../ui/CodeEntry';
import { Keypad, keypadUnits } from '../ui/Keypad';
import { useAnswer } from '../ui/load';
import { Mark } from '../ui/Mark';
import { AskNote, ErrorNote } from '../ui/Notes';
import { anyName, strainName } from '../ui/names';
import { ScanPane } from '../ui/ScanPane';
import { useScan, useText } from '../ui/scanning';
import { parseWeight, type WeightUnit } from '../ui/weight';
import { Head } from './parts';
import '../style/floor.css';

const WHENS: When[] = ['filled', 'cooled', 'before_soak', 'after_soak'];

export function Bench() {
  const [kept, setKept] = useState(readBench);
  const [run] = useState(() => new BenchRun(kept.round, kept.tares));
  const [source, setSource] = useState<SourceState>('off');
  const open = useRef<Source | null>(null);
  const unit = useRef<ScaleUnit | null>(kept.unit);
  unit.current = kept.unit;
  const change = (part: Partial<typeof kept>): void => {
    const next = { ...kept, ...part, tares: run.knownTares };
    setKept(next);
    keepBench(next);
  };
  // Which beginning is the last: what an earlier one still opens or hears is not wanted any more.
  const turn = useRef(0);
  const begin = async (from: From, ask: boolean, baud = kept.baud): Promise<void> => {
    const mine = (turn.current += 1);
    const last = (): boolean => mine === turn.current;
    const heard = {
      line: (text: string): void => { if (last()) run.heard(readLine(text, unit.current)); },
      state: (state: SourceState): void => {
        if (!last()) return;
        setSource(state);
        if (state !== 'open' && state !== 'quiet') run.lost();
      },
    };
    const before = open.current;
    open.current = null;
    await before?.stop();
    if (!last()) return;
    run.lost();
    setSource('off');
    if (from === 'farm') open.current = openFarm((after) => app().scale(after), heard);
    if (from === 'cable') {
      const serial = serialOf();
      const opened = serial && await openSerial(serial, baud, ask, heard);
      if (!last()) void opened?.stop();
      else if (serial) open.current = opened;
      else setSource('none');
    }
  };
  useEffect(() => {
    run.purpose.value = kept.purpose;
    if (!turn.current) void begin(kept.from, false);
    return () => { turn.current += 1; void open.current?.stop(); };
  }, []);
  useScan((code) => run.scanned(code));
  // A scale that types like a keyboard, and ends with Enter.
  useText((texts) => {
    const reading = texts.map((text) => readLine(text, unit.current)).find((r) => r.kind === 'weight');
    if (!reading) return false;
    run.heard(reading, true);
    return true;
  });
  const pick = (from: From): void => { change({ from }); void begin(from, true); };
  const target = run.target.value;
  const purpose = run.purpose.value;
  return (
    <main class="screen" id="main">
      <Head title={t('bench.title')} sub={target ? target.name : t('bench.scan')} />
      <div class="sides">
        <div>
          {kept.from !== 'keys' && <Display run={run} source={source} />}
          {run.asked.value && <Question run={run} />}
          {kept.from !== 'keys' && <SourceWords state={source} from={kept.from} again={() => void begin(kept.from, true)} />}
          {run.trouble.value && <TroubleWords run={run} unit={kept.unit} onUnit={(u) => { change({ unit: u }); run.trouble.value = null; }} />}
          {target && purpose === 'pick' && <Flush run={run} />}
          {target && <button type="button" class="btn btn-bare" onClick={() => run.drop()}>{t('harvest.other')}</button>}
          {!target && <><ScanPane /><CodeEntry onCode={(c) => void run.scanned(c)} /></>}
          <ByHand run={run} open={kept.from === 'keys'} />
        </div>
        <div>
          <Totals round={kept.round} fresh={() => { change({ round: newRound() }); location.reload(); }} />
          <ChoiceGrid label={t('bench.purpose')} value={purpose} onPick={(v) => { run.drop(); run.purpose.value = v as Purpose; change({ purpose: v as Purpose }); }}
            options={(['pick', 'weigh'] as const).map((v) => ({ value: v, name: t(`bench.purpose.${v}`) }))} />
          {purpose === 'weigh' && <ChoiceGrid label={t('field.bag_weighed.when')} value={run.when.value} onPick={(v) => { run.when.value = v as When; }}
            options={WHENS.map((v) => ({ value: v, name: t(`choice.when.${v}`) }))} />}
          <Tare run={run} onSet={() => change({})} />
          <ChoiceGrid label={t('bench.from')} value={kept.from} single onPick={(v) => pick(v as From)}
            options={(['cable', 'farm', 'keys'] as const).map((v) => ({ value: v, name: t(`bench.from.${v}`), about: t(`bench.from.${v}.about`) }))} />
          {kept.from === 'cable' && <ChoiceGrid label={t('bench.baud')} value={String(kept.baud)} onPick={(v) => { change({ baud: Number(v) }); void begin('cable', false, Number(v)); }}
            options={BAUDS.map((b) => ({ value: String(b), name: num(b) }))} />}
          {purpose === 'pick' && <Care of="bag.harvested" />}
        </div>
      </div>
    </main>
  );
}

/** Live weight with its state in a shape and a word; the state is told to readers, the running figure is not. */
function Display({ run, source }: { run: BenchRun; source: SourceState }) {
  const state = run.state.value;
  const live = (source === 'open' || source === 'quiet') && state !== 'none';
  return (
    <div class={`scale-shown scale-${live ? state : 'none'}`}>
      <b class="num">{live ? weight(run.net.value) : '–'}</b>
      <span class="row" role="status"><Mark kind={state === 'still' || state === 'taken' ? 'ok' : state === 'over' ? 'bad' : 'care'} size={24} /> {t(`bench.pan.${live ? state : 'none'}`)}</span>
      {run.tare.value > 0 && <span class="small quiet">{t('bench.net_of', { weight: weight(run.tare.value) })}</span>}
    </div>
  );
}

function Question({ run }: { run: BenchRun }) {
  const asked = run.asked.value;
  const target = run.target.value;
  if (!asked || !target) return null;
  const { doubt } = asked;
  const params = Object.fromEntries(Object.entries(doubt).map(([k, v]) => [k, typeof v === 'number' ? weight(v) : String(v)]));
  return (
    <AskNote what={t(`bench.ask.${doubt.kind}`, { ...params, weight: weight(asked.grams), n: target.n, flush: run.flush.value })}>
      <p>{t('bench.ask.again')}</p>
      <button type="button" class="btn btn-first" disabled={saving.value} onClick={() => void run.answer(true)}>{t('harvest.save_anyway', { weight: weight(asked.grams) })}</button>
      <button type="button" class="btn" onClick={() => void run.answer(false)}>{t('weight.again')}</button>
    </AskNote>
  );
}

function Flush({ run }: { run: BenchRun }) {
  const n = run.flush.value;
  return (
    <div class="row" role="group" aria-label={t('field.bag_harvested.flush')}>
      <b class="grow">{t('harvest.flush', { n })}</b>
      <button type="button" class="btn btn-icon" aria-label={t('harvest.flush.less')} disabled={n <= 1} onClick={() => { run.flush.value = n - 1; }}>−</button>
      <button type="button" class="btn btn-icon" aria-label={t('harvest.flush.more')} disabled={n >= 30} onClick={() => { run.flush.value = n + 1; }}>+</button>
    </div>
  );
}

/** What is the matter with the cable, and the way on: plug, permit, or by hand. */
function SourceWords({ state, from, again }: { state: SourceState; from: From; again: () => void }) {
  if (state === 'open' || state === 'opening') return null;
  if (state === 'off') return <button type="button" class="btn btn-first" onClick={again}>{t('bench.connect')}</button>;
  return (
    <>
      <ErrorNote what={t(`bench.source.${state}`)} todo={t(`bench.source.${state}.todo`)} />
      {from === 'cable' && state !== 'none' && state !== 'quiet' && <button type="button" class="btn" onClick={again}>{t('bench.connect')}</button>}
    </>
  );
}

function TroubleWords({ run, unit, onUnit }: { run: BenchRun; unit: ScaleUnit | null; onUnit: (u: ScaleUnit) => void }) {
  const word = run.trouble.value;
  if (word === null) return null;
  if (word === 'no_unit') return <ChoiceGrid label={t('bench.no_unit')} value={unit} onPick={(v) => onUnit(v as ScaleUnit)} options={UNITS.map((u) => ({ value: u, name: t(`unit.name.${u}`) }))} />;
  if (word === 'unit_changed') {
    return <AskNote what={t('bench.unit_changed')}><button type="button" class="btn" onClick={() => { run.trouble.value = null; }}>{t('bench.seen')}</button></AskNote>;
  }
  return <ErrorNote what={t(`bench.${word}`)} todo={t(`bench.${word}.todo`)} />;
}

function Tare({ run, onSet }: { run: BenchRun; onSet: () => void }) {
  const [text, setText] = useState('');
  const typed = parseWeight(text, keypadUnits()[0] ?? 'g', 100_000);
  const lying = run.lying;
  const set = (grams: number | null): void => { run.setTare(grams); setText(''); onSet(); };
  return (
    <details class="card">
      <summary>{run.tare.value ? t('bench.tare_is', { weight: weight(run.tare.value) }) : t('bench.tare')}{run.crate.value ? ` · ${anyName(run.crate.value)}` : ''}</summary>
      <p class="small">{t('bench.tare.about')}</p>
      {lying !== null && lying > 0 && <button type="button" class="btn btn-wide" onClick={() => set(lying)}>{t('bench.tare.lying', { weight: weight(lying) })}</button>}
      <form class="field" onSubmit={(e) => { e.preventDefault(); if (typed.kind === 'grams') set(typed.grams); }}>
        <label for="tare">{t('field.bag_harvested.tare_g')} ({keypadUnits()[0]})</label>
        <div class="input-unit"><input id="tare" class="input" inputMode="decimal" value={text} onInput={(e) => setText(e.currentTarget.value)} />
          <button class="btn" type="submit" disabled={typed.kind !== 'grams'}>{t('bench.tare.set')}</button></div>
        {text && typed.kind !== 'grams' && <p class="wrong">{t('harvest.tare_wrong', { text })}</p>}
      </form>
      {run.tare.value > 0 && <button type="button" class="btn btn-wide" onClick={() => set(null)}>{t('bench.tare.none')}</button>}
    </details>
  );
}

function ByHand({ run, open }: { run: BenchRun; open: boolean }) {
  const [text, setText] = useState('');
  const [unit, setUnit] = useState<WeightUnit>(keypadUnits()[0] ?? 'g');
  const [tried, setTried] = useState(false);
  const weighed = parseWeight(text, unit, 10_000_000);
  const store = (): void => {
    setTried(true);
    if (weighed.kind !== 'grams') return;
    void run.keyed(weighed.grams).then(() => { if (!run.target.value || run.asked.value) { setText(''); setTried(false); } });
  };
  const pad = <Keypad label={t('harvest.weight')} text={text} unit={unit} weighed={weighed} tried={tried} onText={setText} onUnit={setUnit} busy={saving.value} onSave={store}
    save={weighed.kind === 'grams' ? t('harvest.save', { weight: weight(Math.max(0, weighed.grams - run.tare.value)) }) : t('harvest.save_bare')} />;
  return open ? pad : <details><summary>{t('bench.by_hand')}</summary>{pad}</details>;
}

interface Sum { key: string; name: string; n: number; g: number }

/** Summed from the log itself, so an undone weighing is out of it, and a reload changes nothing. */
async function totals(round: string): Promise<Sum[]> {
  const sums = new Map<string, Sum>();
  for (const { line, voided } of await app().records(2_000)) {
    if (voided || line.r !== round) continue;
    const g = typeof line.d?.['g'] === 'number' ? line.d['g'] : 0;
    const of = Array.isArray(line.d?.['of']) ? (line.d['of'] as [string, string][]) : [];
    const key = of.map((pair) => pair.join(' ')).join(', ');
    const name = of.length ? of.map(([batch, strain]) => [app().batchName(batch) ?? anyName(batch), strain ? strainName(strain) : ''].filter(Boolean).join(' · ')).join(', ') : t('bench.purpose.weigh');
    const sum = sums.get(key) ?? { key, name, n: 0, g: 0 };
    sum.n += 1;
    sum.g += g;
    sums.set(key, sum);
  }
  return [...sums.values()].reverse();
}

function Totals({ round, fresh }: { round: string; fresh: () => void }) {
  const sums = useAnswer(() => totals(round), [round]) ?? [];
  if (!sums.length) return <p class="quiet">{t('bench.none_yet')}</p>;
  return (
    <section class="stack-close">
      <h2>{t('bench.totals')}</h2>
      <ul class="list">{sums.map((s) => (
        <li key={s.key}><div class="item-still"><b dir="auto">{s.name}</b><span class="qty">{weight(s.g)}</span><span class="sub">{t('bench.weighings', { n: s.n })}</span></div></li>
      ))}</ul>
      <button type="button" class="btn" onClick={fresh}>{t('bench.fresh')}</button>
    </section>
  );
}
