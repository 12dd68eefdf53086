/** Sweep: pan the camera over a shelf; every label counts once, and the shelf's books are held against it. Seek: find one. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Draft, PlaceView } from '../app-types';
import { num, t } from '../i18n';
import { tally, whereIn } from '../round/tally';
import type { Seen, SeenSymbol } from '../scan/decoder';
import { Panorama, type Drawn } from '../scan/Panorama';
import { read } from '../scan/read';
import { tell } from '../scan/feedback';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { CodeEntry } from '../ui/CodeEntry';
import { known } from '../ui/known';
import { Lens } from '../ui/Lens';
import { useAnswer } from '../ui/load';
import { Mark } from '../ui/Mark';
import { anyName, placeName, placePath } from '../ui/names';
import { PlacePicker } from '../ui/Pick';
import { back, goInstead, to } from '../ui/route';
import { useScan } from '../ui/scanning';
import { useWake } from '../ui/wake';
import { OutcomeMark } from './RoundRun';
import { Head } from './parts';

/** One symbol of a frame as a code of ours, a stranger's, or nothing of either. */
function codeIn(text: string): { code: string } | { wrong: 'other_farm' | 'not_ours' } {
  const got = read(text, { farmTag: app().device.value?.tag ?? null, how: 'camera', known });
  if (got.kind === 'code') return { code: got.code };
  return { wrong: got.kind === 'other_farm' ? 'other_farm' : 'not_ours' };
}

const ENDED = ['spent', 'dumped', 'sold', 'burst'];

function stateOf(code: string): 'lives' | 'ended' | 'unknown' {
  const row = app().find({ text: code }).find(({ codes }) => codes.includes(code));
  if (row) return ENDED.includes(row.stage) ? 'ended' : 'lives';
  return 'unknown';
}

/** What should stand at a place, in places inside it too: its labels, and how many bags have none. */
async function expectedAt(place: string): Promise<{ codes: string[]; unlabelled: number }> {
  const sum = { codes: [] as string[], unlabelled: 0 };
  const add = async (view: PlaceView | null, depth: number): Promise<void> => {
    for (const { codes, n } of view?.standing ?? []) {
      const labels = codes.filter((c) => !c.startsWith('g-'));
      sum.codes.push(...labels);
      sum.unlabelled += labels.length === codes.length ? 0 : n - labels.length;
    }
    if (depth < 4) for (const inner of view?.inside ?? []) await add(await app().place(inner.code), depth + 1);
  };
  await add(await app().place(place), 0);
  return sum;
}

/** Subjects that one record names; the catalogue allows 1,000. */
const MOST_SUBJECTS = 900;

export function Sweep({ place: first }: { place?: string | undefined }) {
  const [place, setPlace] = useState<string | null>(first ?? null);
  const [seen, setSeen] = useState<ReadonlySet<string>>(new Set());
  const [wrong, setWrong] = useState<{ other_farm: number; not_ours: number }>({ other_farm: 0, not_ours: 0 });
  const strangers = useRef(new Set<string>());
  const [on, setOn] = useState(true);
  const held = useRef(seen);
  held.current = seen;
  const expected = useAnswer(() => (place ? expectedAt(place) : Promise.resolve(null)), [place]);
  useWake(on);

  const add = (codes: string[]): void => {
    const fresh = codes.filter((code) => !held.current.has(code));
    if (fresh.length === 0) return;
    held.current = new Set([...held.current, ...fresh]);
    setSeen(held.current);
    tell('read');
  };
  const onSeen = ({ symbols }: Seen): void => {
    const codes: string[] = [];
    for (const { text } of symbols) {
      const got = codeIn(text);
      if ('code' in got) {
        // The shelf's own tag in the picture says which shelf this is.
        if (got.code.startsWith('P') && !place) setPlace(got.code);
        codes.push(got.code);
      } else if (!strangers.current.has(text)) {
        strangers.current.add(text);
        setWrong((now) => ({ ...now, [got.wrong]: now[got.wrong] + 1 }));
      }
    }
    add(codes);
  };
  useScan((code) => { if (code.startsWith('P')) setPlace(code); else add([code]); });

  const sum = expected ? tally(seen, expected, stateOf) : null;
  const drawn = ({ text }: SeenSymbol): Drawn => {
    const got = codeIn(text);
    if ('wrong' in got) return 'wrong';
    if (!expected || !'BG'.includes(got.code[0] ?? '')) return 'plain';
    return expected.codes.includes(got.code) ? 'found' : 'stray';
  };
  const bags = [...seen].filter((code) => 'BG'.includes(code[0] ?? '')).length;

  const settle = async (): Promise<void> => {
    if (!place || !sum) return;
    const drafts: Draft[] = [];
    // A record names 1,000 subjects at most.
    for (let at = 0; at < sum.stray.length; at += MOST_SUBJECTS) drafts.push({ ty: 'bag.moved', sub: sum.stray.slice(at, at + MOST_SUBJECTS), d: { to: place } });
    const except = [...sum.missing, ...(expected?.unlabelled ? unlabelledAt(place) : [])];
    if (sum.found.length) drafts.push({ ty: 'bag.checked', sub: sum.found.length > MOST_SUBJECTS ? [place] : sum.found, d: {}, ...(sum.found.length > MOST_SUBJECTS ? { except } : {}) });
    if (sum.missing.length) drafts.push({ ty: 'note.written', sub: sum.missing.slice(0, MOST_SUBJECTS), d: { text: t('sweep.note', { place: placeName(place) }) } });
    if (drafts.length && (await save(drafts, t('sweep.saved', { found: sum.found.length, stray: sum.stray.length, missing: sum.missing.length })))) back();
  };

  return (
    <main class="screen round-screen" id="main">
      <Head title={t('floor.sweep')} sub={place ? placePath(place) : t('sweep.which')}>
        <output class="round-count" aria-label={t('sweep.count.about')}><b>{num(bags)}</b>{expected ? <span>{t('sweep.of', { n: expected.codes.length })}</span> : null}</output>
      </Head>
      <div class="sides">
        <div class="stack">
          <Panorama active={on} onSeen={onSeen} drawn={drawn} extra={(track) => <Lens track={track} />} />
          <p class="unseen" role="status">{t('sweep.live', { n: bags })}</p>
          {(wrong.other_farm > 0 || wrong.not_ours > 0) && (
            <p class="note note-ask"><Mark kind="ask" /><span>{wrong.other_farm > 0 ? t('sweep.other_farm', { n: wrong.other_farm }) : ''} {wrong.not_ours > 0 ? t('sweep.not_ours', { n: wrong.not_ours }) : ''}</span></p>
          )}
          <button type="button" class="btn" onClick={() => setOn(!on)}>{t(on ? 'scan.close' : 'scan.open')}</button>
        </div>
        <div class="stack">
          {!place && <PlacePicker label={t('sweep.pick')} value={null} onPick={setPlace} />}
          {sum && (
            <>
              <div class="figures">
                <div class="figure" data-sum="found"><b>{num(sum.found.length)}</b><span><Mark kind="ok" size={20} /> {t('sweep.found')}</span></div>
                <div class="figure" data-sum="missing"><b>{num(sum.missing.length)}</b><span><Mark kind="bad" size={20} /> {t('sweep.missing')}</span></div>
                <div class="figure" data-sum="stray"><b>{num(sum.stray.length)}</b><span><Mark kind="ask" size={20} /> {t('sweep.stray')}</span></div>
              </div>
              <button type="button" class="btn btn-first" disabled={sum.found.length + sum.stray.length === 0} onClick={() => void settle()}>{t('sweep.settle')}</button>
              <p class="small quiet">{t('sweep.settle.about')}{expected && expected.unlabelled > 0 ? ` ${t('sweep.unlabelled', { n: expected.unlabelled })}` : ''}</p>
              <Codes title={t('sweep.missing')} codes={sum.missing} seek />
              <Codes title={t('sweep.stray')} codes={sum.stray} />
              <Codes title={t('sweep.odd')} codes={sum.odd} />
            </>
          )}
          {/* Until a shelf is chosen, the picker's own field takes its code. */}
          {place && <CodeEntry onCode={(code) => { if (code.startsWith('P')) setPlace(code); else add([code]); }} />}
        </div>
      </div>
    </main>
  );
}

const unlabelledAt = (place: string): string[] => app().find({ place }).flatMap(({ codes }) => codes.filter((c) => c.startsWith('g-')));

function Codes({ title, codes, seek }: { title: string; codes: string[]; seek?: boolean }) {
  if (codes.length === 0) return null;
  return (
    <details class="card">
      <summary>{title} ({num(codes.length)})</summary>
      <div class="chips">{codes.slice(0, 200).map((code) => <a class="chip" key={code} href={seek ? to('seek', code) : to('c', code)} dir="auto">{anyName(code)}</a>)}</div>
    </details>
  );
}

const SIGNAL_MS = 900;

/** The phone signals when the wanted bag, or any bag of the wanted batch, is in the frame, and where. */
export function Seek({ code }: { code?: string | undefined }) {
  const [where, setWhere] = useState<{ at: ReturnType<typeof whereIn>; n: number } | null>(null);
  const wanted = useAnswer(() => wantedOf(code), [code]);
  const told = useRef(0);
  useWake(code !== undefined);
  useScan((scanned) => goInstead('seek', scanned));
  const isWanted = (text: string): boolean => {
    const got = codeIn(text);
    return 'code' in got && (got.code === code || (wanted?.has(got.code) ?? false));
  };
  const onSeen = (seen: Seen): void => {
    const hits = seen.symbols.filter(({ text }) => isWanted(text));
    const [hit] = hits;
    if (!hit) {
      setWhere(null);
      return;
    }
    setWhere({ at: whereIn(hit.centre.x, hit.centre.y, seen.width, seen.height), n: hits.length });
    const now = performance.now();
    if (now - told.current < SIGNAL_MS) return;
    told.current = now;
    tell('taken');
  };
  useEffect(() => setWhere(null), [code]);
  const stands = code ? app().find({ text: code })[0]?.place : undefined;
  return (
    <main class="screen round-screen" id="main">
      <Head title={t('floor.seek')} sub={code ? anyName(code) : t('seek.which')} />
      {code
        ? (
          <>
            <div aria-live="assertive">
              <div class={`round-told ${where ? 'round-taken' : 'round-set'}`} data-where={where?.at ?? ''}><OutcomeMark outcome={where ? 'taken' : 'set'} />
                <div><strong>{t(where ? `seek.at.${where.at}` : 'seek.not_yet')}</strong><span>{where && where.n > 1 ? t('seek.many', { n: where.n }) : stands ? t('seek.stands', { place: placePath(stands) }) : ''}</span></div></div>
            </div>
            <Panorama onSeen={onSeen} drawn={({ text }) => (isWanted(text) ? 'found' : 'plain')} extra={(track) => <Lens track={track} />} />
            <a class="btn" href={to('c', code)}>{t('seek.page')}</a>
          </>
        )
        : (
          <>
            <p>{t('seek.words')}</p>
            <CodeEntry onCode={(c) => goInstead('seek', c)} open />
            <a class="btn" href={to('find')}>{t('nav.find')}</a>
          </>
        )}
    </main>
  );
}

/** The labels that are a hit: the bag's own; of a batch all of its bags; of a place or lot, its own tag. */
async function wantedOf(code: string | undefined): Promise<Set<string> | null> {
  if (!code) return null;
  if (!code.startsWith('M')) return new Set([code]);
  return new Set([code, ...Object.keys((await app().batch(code))?.parts ?? {})]);
}
