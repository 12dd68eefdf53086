/**
 * Harvest: scan a bag or a shelf, type grams, touch Save; the next bag without going back. The flush is
 * proposed. A doubtful weight, a dumped bag, the same bag twice within three seconds: asked, never dropped.
 */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Happened } from '../app-types';
import { choiceName, t } from '../i18n';
import { weight } from '../i18n/format';
import { app } from '../ui/app';
import { newRound, save, saving } from '../ui/act';
import { choicesOf, field } from '../ui/catalogue';
import { ChoiceGrid } from '../ui/Choice';
import { CodeEntry } from '../ui/CodeEntry';
import { HappenedEarlier } from '../ui/Happened';
import { keypadUnits, Keypad } from '../ui/Keypad';
import { Care } from '../ui/Care';
import { AskNote } from '../ui/Notes';
import { anyName, strainName } from '../ui/names';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { hush, say } from '../ui/toast';
import { parseWeight, type WeightUnit } from '../ui/weight';
import { doubt, proposedFlush, type Doubt } from './harvest';
import { Head } from './parts';
import { findTarget, type Target } from './target';

const TY = 'bag.harvested';
const TWICE_MS = 3_000;

export function Harvest({ code }: { code?: string | undefined }) {
  const [target, setTarget] = useState<Target | null>(null);
  const [crate, setCrate] = useState('');
  const [text, setText] = useState('');
  const [unit, setUnit] = useState<WeightUnit>(keypadUnits()[0] ?? 'g');
  const [flush, setFlush] = useState(1);
  const [tare, setTare] = useState('');
  const [grade, setGrade] = useState('');
  const [finished, setFinished] = useState(false);
  const [tried, setTried] = useState(false);
  const [asked, setAsked] = useState<Doubt>(null);
  const [twice, setTwice] = useState<Target | null>(null);
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const [total, setTotal] = useState({ n: 0, g: 0 });
  const [round] = useState(newRound);
  // The bag taken last on this screen: one that was only looked at a moment ago is no second weighing.
  const last = useRef<{ code: string; ms: number } | null>(null);

  const begin = (next: Target): void => {
    setTarget(next);
    setText(''); setTried(false); setAsked(null); setTwice(null); setFinished(false);
    setFlush(proposedFlush(next.part));
  };
  const take = async (scanned: string, again: boolean): Promise<void> => {
    if (scanned.startsWith('K')) {
      setCrate(scanned);
      say('ok', t('harvest.crate', { code: anyName(scanned) }));
      return;
    }
    if (target?.code === scanned) {
      // Already in the hand: its figures stay as they are.
      say('ask', t('harvest.in_hand', { name: target.name }));
      return;
    }
    const next = await findTarget(scanned);
    if (!next) say('bad', `${t('bag.unknown')} ${t('unknown.todo')}`);
    else if (next.type === 'thing' || next.of.length === 0) {
      say('bad', next.type === 'place' ? t('harvest.empty_place', { name: next.name }) : t('scan.wrong_type', { want: t('type.B'), got: t(`type.${scanned[0] ?? 'B'}`) }));
    } else if (last.current?.code === scanned && (again || Date.now() - last.current.ms < TWICE_MS)) {
      hush();
      setTwice(next);
    } else if (target && text) {
      // A weight typed but not saved is never thrown away by the next scan.
      say('ask', t('harvest.unsaved', { name: target.name }));
    } else {
      last.current = { code: scanned, ms: Date.now() };
      begin(next);
    }
  };
  useScan(take);
  useEffect(() => { if (code) void findTarget(code).then((found) => { 
    if (found && found.of.length) begin(found);
    else say('bad', found ? t('harvest.empty_place', { name: found.name }) : `${t('bag.unknown')} ${t('unknown.todo')}`);
  }); }, [code]);

  const max = field(TY, 'g').max ?? 10_000_000;
  const weighed = parseWeight(text, unit, max);
  const crateTare = tare.trim() ? parseWeight(tare, keypadUnits()[0] ?? 'g', field(TY, 'tare_g').max ?? 100_000) : null;
  const tareG = crateTare?.kind === 'grams' ? crateTare.grams : 0;
  const net = weighed.kind === 'grams' ? weighed.grams - tareG : 0;

  const store = async (sure: boolean): Promise<void> => {
    setTried(true);
    if (!target || weighed.kind !== 'grams' || at === 'future' || (crateTare && crateTare.kind !== 'grams')) return;
    if (net < 1) {
      say('bad', t('harvest.tare_heavier'));
      return;
    }
    const d = doubt(target, net);
    if (d && !sure) {
      setAsked(d);
      return;
    }
    const lines = await save([{
      ty: TY, sub: [target.code], rnd: round,
      d: {
        g: net, of: target.of, flush, ...(tareG ? { tare_g: tareG } : {}), ...(grade ? { grade } : {}),
        ...(crate ? { crate } : {}), ...(finished ? { done: true } : {}),
      },
      ...(at ? { on: at } : {}),
    }], t('harvest.saved', { weight: weight(net), name: target.name }));
    if (!lines) return;
    last.current = { code: target.code, ms: Date.now() };
    setTotal((sum) => ({ n: sum.n + 1, g: sum.g + net }));
    setTarget(null);
    setText(''); setTried(false); setAsked(null); setFinished(false);
  };

  return (
    <main class="screen" id="main">
      <Head title={t('harvest.title')} sub={total.n ? t('harvest.total', { n: total.n, weight: weight(total.g) }) : undefined} />
      {twice && (
        <AskNote what={t('harvest.twice', { name: twice.name })}>
          <button type="button" class="btn" onClick={() => begin(twice)}>{t('harvest.twice.more')}</button>
          <button type="button" class="btn" onClick={() => setTwice(null)}>{t('harvest.twice.slip')}</button>
        </AskNote>
      )}
      {!target && (
        <div class="stack">
          <p><b>{t(total.n ? 'harvest.next' : 'harvest.first')}</b></p>
          <ScanPane open={!code || total.n > 0} />
          <CodeEntry onCode={(c) => void take(c, false)} />
          {!total.n && <Care of={TY} />}
        </div>
      )}
      {target && (
        <div class="sides">
          <div>
            <div class="row" style={{ flexWrap: 'nowrap' }} role="group" aria-label={t('field.bag_harvested.flush')}>
              <p class="grow"><b dir="auto">{target.name}</b>
                <span class="sub" style={{ display: 'block' }}>{t('harvest.flush', { n: flush })} <span class="quiet small">{flush === proposedFlush(target.part) ? t('harvest.proposed') : ''}</span></span>
                {target.of.length > 1 && <span class="tag">{t('harvest.shared', { n: target.of.length })}</span>}</p>
              <button type="button" class="btn btn-icon" aria-label={t('harvest.flush.less')} disabled={flush <= 1} onClick={() => setFlush(flush - 1)}>−</button>
              <button type="button" class="btn btn-icon" aria-label={t('harvest.flush.more')} disabled={flush >= 30} onClick={() => setFlush(flush + 1)}>+</button>
            </div>
            {!asked && <Keypad label={t('harvest.weight')} text={text} unit={unit} weighed={weighed} tried={tried} onText={(x) => { setText(x); setAsked(null); }} onUnit={setUnit}
              busy={saving.value} onSave={() => void store(false)} save={weighed.kind === 'grams' ? t('harvest.save', { weight: weight(Math.max(0, net)) }) : t('harvest.save_bare')} />}
            {tareG > 0 && weighed.kind === 'grams' && <p class="num">{t('harvest.net', { net: weight(net), tare: weight(tareG) })}</p>}
            {asked && (
              <AskNote what={asked.kind === 'absurd' ? t('harvest.absurd', { weight: weight(net), n: target.n, each: weight(asked.a_bag) })
                : asked.kind === 'ended' ? t('harvest.ended', { end: t(`end.${asked.end}`) }) : t('harvest.none_left')}>
                <button type="button" class="btn btn-first" onClick={() => void store(true)}>{t('harvest.save_anyway', { weight: weight(net) })}</button>
                <button type="button" class="btn" onClick={() => { setAsked(null); setText(''); }}>{t('weight.again')}</button>
              </AskNote>
            )}
          </div>
          <div>
            {!total.n && <Care of={TY} />}
            <button type="button" class="choice" aria-pressed={finished} onClick={() => setFinished(!finished)}><span>{t('field.bag_harvested.done')}</span><small>{t('field.bag_harvested.done.hint')}</small></button>
            <details class="card">
              <summary>{t('harvest.more')}</summary>
              <ChoiceGrid label={t('field.bag_harvested.grade')} value={grade} onPick={(v) => setGrade(v === grade ? '' : v)} options={choicesOf(TY, 'grade').map((g) => ({ value: g, name: choiceName('grade', g) }))} />
              <label class="field"><span class="field-label">{t('field.bag_harvested.tare_g')} <span class="must">{t('field.optional')}</span></span>
                <input class="input" inputMode="decimal" value={tare} onInput={(e) => setTare(e.currentTarget.value)} /></label>
              {crateTare && crateTare.kind !== 'grams' && <p class="wrong">{t('harvest.tare_wrong', { text: tare })}</p>}
              <p>{t('field.bag_harvested.crate')}: <b>{crate ? anyName(crate) : t('harvest.no_crate')}</b></p>
              {crate ? <button type="button" class="btn" onClick={() => setCrate('')}>{t('pick.clear')}</button> : <CodeEntry letter="K" onCode={setCrate} />}
              <p class="small quiet">{t('harvest.of')}: {target.of.map(([b, s]) => `${batchName(b)}${s ? ` (${strainName(s)})` : ''}`).join(', ')}</p>
            </details>
            <HappenedEarlier onChange={setAt} />
            <button type="button" class="btn btn-bare" onClick={() => { setTarget(null); setText(''); setAsked(null); }}>{t('harvest.other')}</button>
          </div>
        </div>
      )}
    </main>
  );
}

const batchName = (batch: string): string => app().batchName(batch) ?? anyName(batch);
