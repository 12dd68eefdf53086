/**
 * Moving: bags first and then the shelf, or the shelf first and then bag after bag; and a trolley or rack with
 * all that stands on it, by one scan. Nothing has to be chosen beforehand: the first scan tells which.
 */
import { useState } from 'preact/hooks';
import type { Happened } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { newRound, save } from '../ui/act';
import { CodeEntry } from '../ui/CodeEntry';
import { HappenedEarlier } from '../ui/Happened';
import { HowMany } from '../ui/HowMany';
import { Care } from '../ui/Care';
import { AskNote, ErrorNote } from '../ui/Notes';
import { PlacePicker } from '../ui/Pick';
import { placeName, placePath } from '../ui/names';
import { back, go } from '../ui/route';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { hush, say } from '../ui/toast';
import { Head, Loading } from './parts';
import { draftsFor, findTarget, isGroup, targetWords, useTarget, type Target } from './target';

const ROLLS = ['trolley', 'rack'];

export function Move({ code, shelf: first }: { code?: string | undefined; shelf?: string | undefined }) {
  // null: not touched yet, so the bag whose page led here is the one to move.
  const [picked, setBags] = useState<Target[] | null>(null);
  const [shelf, setShelf] = useState<string | null>(first ?? null);
  const [done, setDone] = useState(0);
  const [round] = useState(newRound);
  const [some, setSome] = useState<number | null>(null);
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const [trolley, setTrolley] = useState<string | null>(null);
  const on = at && at !== 'future' ? { on: at } : {};

  const start = useTarget(code);
  const bags = picked ?? (start ? [start] : []);

  const move = async (targets: Target[], to: string): Promise<void> => {
    if (Number.isNaN(some) || at === 'future') return;
    const one = targets.length === 1 ? targets[0] : undefined;
    const drafts = one && isGroup(one)
      ? draftsFor(one, some, { ty: 'bag.moved', d: { to }, rnd: round, ...on })
      : targets.map((b) => ({ ty: 'bag.moved', sub: [b.code], d: { to }, rnd: round, ...on }));
    const about = one ? targetWords(one, some) : t('name.things', { n: targets.length });
    if (!(await save(drafts, t('move.saved', { about, place: placeName(to) })))) return;
    setDone((n) => n + targets.length);
    setBags([]);
    setSome(null);
    if (code) back();
  };

  const take = async (scanned: string): Promise<void> => {
    if (scanned.startsWith('P')) {
      const place = app().ref.value.places[scanned];
      if (bags.length > 0) await move(bags, scanned);
      else if (place && ROLLS.includes(String(place['type'])) && !shelf) setTrolley(scanned);
      else setShelf(scanned);
      return;
    }
    const target = await findTarget(scanned);
    if (!target) {
      say('bad', `${t('bag.unknown')} ${t('unknown.todo')}`);
      return;
    }
    if (target.type === 'thing') {
      say('bad', t('scan.wrong_type', { want: t('type.B'), got: t(`type.${scanned[0] ?? 'B'}`) }));
      return;
    }
    if (target.part?.end) {
      say('ask', t('move.ended', { name: target.name, end: t(`end.${target.part.end}`) }));
      return;
    }
    // Shelf first: each bag is saved as it is scanned. Bags first: they wait for their shelf.
    if (shelf && bags.length === 0 && !isGroup(target)) await move([target], shelf);
    else setBags((old) => { const now = old ?? (start ? [start] : []); return now.some((b) => b.code === scanned) ? now : [...now, target]; });
  };
  useScan(take);

  if (code && start === undefined) return <main class="screen" id="main"><Loading /></main>;
  const group = bags.length === 1 && bags[0] && isGroup(bags[0]) ? bags[0] : null;
  return (
    <main class="screen" id="main">
      <Head title={t('move.title')} sub={done ? t('move.done', { n: done }) : undefined} />
      {start === null && code && <ErrorNote what={t('bag.unknown')} todo={t('unknown.todo')} />}
      {trolley && (
        <AskNote what={t('move.trolley', { name: placeName(trolley) })}>
          <button type="button" class="btn" onClick={() => go('roll', trolley)}>{t('move.trolley.roll')}</button>
          <button type="button" class="btn" onClick={() => { setShelf(trolley); setTrolley(null); }}>{t('move.trolley.fill')}</button>
        </AskNote>
      )}
      <div class="sides">
        <div>
          <ScanPane open={!code} />
          {bags.length > 0 && (
            <section class="card">
              <h2>{t('move.these', { n: bags.length })}</h2>
              <div class="chips">{bags.map((b) => (
                <button type="button" class="chip" key={b.code} aria-label={t('move.leave_out', { name: b.name })} onClick={() => setBags(bags.filter((x) => x.code !== b.code))}><span dir="auto">{b.name}</span> ×</button>
              ))}</div>
            </section>
          )}
          {group && <HowMany n={group.n} value={some} onChange={setSome} />}
          {bags.length === 0 && <CodeEntry onCode={(c) => { hush(); void take(c); }} />}
        </div>
        <div>
          {shelf && (
            <section class="card">
              <h2>{t('move.shelf', { name: placeName(shelf) })}</h2>
              <p class="quiet">{bags.length ? placePath(shelf) : t('move.shelf.next')}</p>
              {bags.length > 0 && <button type="button" class="btn btn-first" onClick={() => void move(bags, shelf)}>{t('move.here', { n: bags.length })}</button>}
              <button type="button" class="btn" onClick={() => setShelf(null)}>{t('move.shelf.other')}</button>
            </section>
          )}
          {!shelf && <PlacePicker label={bags.length ? t('move.to') : t('move.or_shelf')} value={null} onPick={(p) => { if (bags.length) void move(bags, p); else setShelf(p); }} />}
          <HappenedEarlier onChange={setAt} />
        </div>
      </div>
      {bags.length === 0 && done > 0 && <button type="button" class="btn btn-first" onClick={back}>{t('round.finish')}</button>}
    </main>
  );
}

/** A trolley or rack is rolled elsewhere with all that stands on it. */
export function Roll({ code }: { code: string }) {
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const target = useTarget(code);
  const roll = async (to: string): Promise<void> => {
    if (to === code) {
      say('bad', t('roll.itself'));
      return;
    }
    if (at === 'future') return;
    if (await save([{ ty: 'place.moved', sub: [code], d: { to }, ...(at ? { on: at } : {}) }], t('roll.saved', { name: placeName(code), place: placeName(to), n: target?.n ?? 0 }))) back();
  };
  useScan((scanned) => {
    if (scanned.startsWith('P')) void roll(scanned);
    else say('bad', t('scan.wrong_type', { want: t('type.P'), got: t(`type.${scanned[0] ?? 'B'}`) }));
  });
  return (
    <main class="screen" id="main">
      <Head title={t('roll.title', { name: placeName(code) })} sub={target ? t('roll.with', { n: target.n }) : undefined} />
      <Care of="place.moved" />
      <ScanPane open />
      <PlacePicker label={t('roll.to')} value={null} except={[code]} onPick={(p) => void roll(p)} />
      <HappenedEarlier onChange={setAt} />
    </main>
  );
}
