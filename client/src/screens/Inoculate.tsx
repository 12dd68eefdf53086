/** A row of bags inoculated from one spawn lot: the lot once, then bag after bag, each saved as it is scanned. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { app } from '../ui/app';
import { newRound, save } from '../ui/act';
import { CodeEntry } from '../ui/CodeEntry';
import { HowMany } from '../ui/HowMany';
import { Care } from '../ui/Care';
import { AskNote } from '../ui/Notes';
import { SpawnPicker } from '../ui/Pick';
import { spawnName } from '../ui/names';
import { back, go } from '../ui/route';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { AskResult, gateOf } from './loadstate';
import { Head } from './parts';
import { draftsFor, findTarget, isGroup, targetWords, type Target } from './target';

export function Inoculate({ lot: first }: { lot?: string | undefined }) {
  const [lot, setLot] = useState<string | null>(first ?? null);
  const [done, setDone] = useState(0);
  const [round, setRound] = useState(newRound);
  const [wait, setWait] = useState<Target | null>(null);
  const [ask, setAsk] = useState<{ target: Target; load: string } | null>(null);
  const [failed, setFailed] = useState(false);
  const [some, setSome] = useState<number | null>(null);

  const inoculate = async (target: Target, override = false, count: number | null = null): Promise<void> => {
    if (!lot || Number.isNaN(count)) return;
    const drafts = draftsFor(target, count, { ty: 'bag.inoculated', d: { spawn: lot, ...(override ? { override: true } : {}) }, rnd: round });
    if (!(await save(drafts, t('inoculate.saved', { name: targetWords(target, count) })))) return;
    setDone((n) => n + (count ?? Math.max(1, target.n)));
    setWait(null);
    setSome(null);
  };
  const take = async (scanned: string): Promise<void> => {
    if (scanned.startsWith('S')) {
      if (!app().ref.value.spawn[scanned]) { say('ask', t('inoculate.new_lot')); go('setup', 'spawn', scanned); return; }
      setLot(scanned);
      setRound(newRound());
      setDone(0);
      return;
    }
    if (!lot) { say('ask', t('inoculate.lot_first')); return; }
    const target = await findTarget(scanned);
    if (!target || target.type === 'thing') {
      // A blank label adopted in the clean room: first say which batch it belongs to.
      if (scanned.startsWith('B') || scanned.startsWith('G')) go('adopt', scanned);
      else say('bad', t('scan.wrong_type', { want: t('type.B'), got: t(`type.${scanned[0] ?? 'B'}`) }));
      return;
    }
    await meet(target);
  };
  // A failed load stops, one without a result asks once; then whatever else there is to say of the bags.
  // `told`: what was just answered, which the state behind gateOf learns a moment later.
  const meet = async (target: Target, told?: string): Promise<void> => {
    const gate = told ? { failed: told === 'failed', ask: null } : gateOf(target.code);
    setFailed(gate.failed);
    setAsk(null);
    setWait(null);
    if (!gate.failed && gate.ask) { setAsk({ target, load: gate.ask }); return; }
    const already = target.part?.spawn !== undefined;
    if (gate.failed || already || isGroup(target) || target.type !== 'part') setWait(target);
    else await inoculate(target);
  };
  useScan(take);

  return (
    <main class="screen" id="main">
      <Head title={t('inoculate.title')} sub={done ? t('inoculate.done', { n: done }) : undefined} />
      {!lot && (
        <>
          <Care of="bag.inoculated" />
          <ScanPane />
          <SpawnPicker label={t('inoculate.which')} value={null} onPick={setLot} />
        </>
      )}
      {lot && (
        <>
          <section class="card"><h2 dir="auto">{spawnName(lot)}</h2><button type="button" class="btn" onClick={() => { setLot(null); setDone(0); }}>{t('inoculate.other_lot')}</button></section>
          {wait && (
            <AskNote what={failed ? t('act.failed_load') : wait.part?.spawn ? t('inoculate.already', { name: wait.name }) : t('inoculate.many', { name: wait.name, n: wait.n })}>
              {isGroup(wait) && <HowMany n={wait.n} value={some} onChange={setSome} />}
              <button type="button" class="btn btn-first" onClick={() => void inoculate(wait, failed, some)}>{failed ? t('inoculate.override') : t('inoculate.these', { n: some === null || Number.isNaN(some) ? wait.n : some })}</button>
              <button type="button" class="btn" onClick={() => setWait(null)}>{t('inoculate.leave')}</button>
            </AskNote>
          )}
          {ask && <AskResult code={ask.load} go="load.ask.go" onDone={(result) => void meet(ask.target, result)} />}
          <p><b>{t('inoculate.scan')}</b></p>
          <ScanPane open />
          <CodeEntry onCode={(c) => void take(c)} />
          {done > 0 && <button type="button" class="btn btn-first" onClick={back}>{t('round.finish')}</button>}
        </>
      )}
    </main>
  );
}
