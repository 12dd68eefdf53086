/** Putting a load together: its vessel, then bags, groups, trolleys or whole batches by scan; then the heat. */
import { useState } from 'preact/hooks';
import type { Draft, RefRow } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { save, saving } from '../ui/act';
import { Care } from '../ui/Care';
import { ChoiceGrid } from '../ui/Choice';
import { CodeEntry } from '../ui/CodeEntry';
import { HowMany } from '../ui/HowMany';
import { anyName } from '../ui/names';
import { AskNote } from '../ui/Notes';
import { to } from '../ui/route';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { figure } from './loads';
import { findTarget, isGroup, targetWords, type Target } from './target';
import { chosen, programme, programmeOf } from './programme';

/** Codes of one record, as in a round. */
const MOST_CODES = 300;

export function LoadFill({ code, row, n }: { code: string; row: RefRow; n: number }) {
  const a = app();
  const [wait, setWait] = useState<Target | null>(null);
  const [some, setSome] = useState<number | null>(null);
  const vessels = Object.entries(a.ref.value.vessels);
  const pot = typeof row['pot'] === 'string' ? row['pot'] : null;
  const holds = pot ? a.ref.value.vessels[pot]?.['holds'] : undefined;
  const core = pot ? a.ref.value.vessels[pot]?.['core'] : undefined;
  const begun = figure(row, 'begun');

  const put = async (target: Target, count: number | null = null): Promise<void> => {
    if (Number.isNaN(count)) return;
    if (await save(draftsInto(code, target, count), t('load.put', { name: targetWords(target, count) }))) { setWait(null); setSome(null); }
  };
  const take = async (scanned: string): Promise<void> => {
    if (scanned === code) return;
    const target = await findTarget(scanned);
    if (!target || target.type === 'thing') {
      say('bad', target || !'BGM'.includes(scanned[0] ?? '') ? t('scan.wrong_type', { want: t('type.B'), got: t(`type.${scanned[0] ?? 'B'}`) }) : t('round.misfit.unknown', { name: anyName(scanned) }));
      return;
    }
    if (target.part?.end) { say('bad', t('round.misfit.ended', { name: target.name })); return; }
    if (target.part?.spawn || target.part?.strain) { say('bad', t('round.misfit.spawned_load', { name: target.name })); return; }
    if (target.part?.load === code) { say('ask', t('load.is_in', { name: target.name })); return; }
    if (target.type !== 'part' || isGroup(target)) setWait(target);
    else await put(target);
  };
  useScan(take);
  const begin = (): void => { void save([{ ty: 'load.filled', sub: [code], d: { ...programmeOf(row), begun: Date.now() } }], t('load.begun.saved')); };

  return (
    <>
      {vessels.length === 0
        ? <p class="note note-ask"><span>{t('vessels.none')} <a href={to('vessels', 'new')}>{t('vessels.add')}</a></span></p>
        : begun === null && <ChoiceGrid single label={t('load.vessel')} value={pot} options={vessels.map(([id, v]) => ({ value: id, name: anyName(id), about: programme(v).join(' · ') }))} onPick={(id) => void save([{ ty: 'load.filled', sub: [code], d: chosen(id) }], t('load.vessel.saved', { name: anyName(id) }))} />}
      {typeof core === 'string' && core && <p class="small"><b>{t('field.vessel_named.core')}:</b> <span dir="auto">{core}</span></p>}
      {typeof holds === 'number' && n > holds && <p class="note note-ask" role="alert"><span>{t('load.too_many', { n, holds })}</span></p>}
      {wait && (
        <AskNote what={t('load.many', { name: wait.name, n: wait.n })}>
          {isGroup(wait) && <HowMany n={wait.n} value={some} onChange={setSome} />}
          <button type="button" class="btn btn-first" onClick={() => void put(wait, some)}>{t('load.put_in', { n: some === null || Number.isNaN(some) ? wait.n : some })}</button>
          <button type="button" class="btn" onClick={() => setWait(null)}>{t('inoculate.leave')}</button>
        </AskNote>
      )}
      {begun === null && (
        <section class="stack" aria-label={t('load.scan')}>
          <p><b>{t('load.scan')}</b></p>
          <ScanPane />
          <CodeEntry onCode={(c) => void take(c)} />
          <a class="btn" href={to('round', 'load', code)}>{t('load.round')}</a>
          {row['way'] !== 'atmospheric' && <Care of="vessel" />}
          <button type="button" class="btn btn-first" disabled={n === 0 || saving.value} onClick={begin}>{t('load.begin')}</button>
          {n === 0 && <p class="quiet small">{t('load.begin.empty')}</p>}
        </section>
      )}
    </>
  );
}

/** What puts a thing into a load: a part (or some of a group), all of a batch, or what stands at a place now. */
export function draftsInto(load: string, target: Target, some: number | null): Draft[] {
  if (target.type === 'place') {
    const codes = app().briefs(target.code).filter((part) => !part.ended && part.n > 0).map((part) => part.code);
    return Array.from({ length: Math.ceil(codes.length / MOST_CODES) }, (_, i) => ({ ty: 'load.filled', sub: [load, ...codes.slice(i * MOST_CODES, (i + 1) * MOST_CODES)], d: {} }));
  }
  if (some === null || !isGroup(target) || some >= target.n) return [{ ty: 'load.filled', sub: [load, target.code], d: {} }];
  return [{ ty: 'group.split', sub: [target.code], d: { n: some } }, { ty: 'load.filled', sub: [load, 'g-@0'], d: {} }];
}
