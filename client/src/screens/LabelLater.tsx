/** Labels for bags that have none: new codes to print, or blank labels scanned as they are stuck on. */
import { useState } from 'preact/hooks';
import type { Label } from '../app-types';
import { num, t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { CodeEntry } from '../ui/CodeEntry';
import { useAnswer } from '../ui/load';
import { ErrorNote } from '../ui/Notes';
import { between } from '../labels/prints';
import { labelsFor } from '../labels/tags';
import { anyName, partName, placeName } from '../ui/names';
import { Pdf } from '../ui/Pdf';
import { PrintLabels } from '../ui/PrintLabels';
import { back, goInstead, to } from '../ui/route';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { labelsOf, labelsOfParts, MOST_LABELS, newCodes, nextNumber } from './labels';
import { Head, Loading } from './parts';

export function LabelLater({ code }: { code: string }) {
  const view = useAnswer(() => app().part(code), [code]);
  const batch = useAnswer(() => (view ? app().batch(view.batch.code) : Promise.resolve(null)), [view?.batch.code]);
  const [text, setText] = useState('');
  const [tried, setTried] = useState(false);
  const [scanned, setScanned] = useState<string[]>([]);
  const [made, setMade] = useState<Label[] | null>(null);
  useScan((c) => stick(c));

  const letter = app().device.value?.letter ?? 'A';
  const first = batch ? nextNumber(batch.parts, letter) : `${letter}1`;
  const most = Math.min(view?.part.n ?? 0, MOST_LABELS);
  const n = /^\d+$/.test(text.trim()) ? Number(text) : NaN;
  const right = n >= 1 && n <= most;

  const stick = async (c: string): Promise<void> => {
    if (!c.startsWith('B')) {
      say('bad', t('scan.wrong_type', { want: t('type.B'), got: t(`type.${c[0] ?? 'B'}`) }));
      return;
    }
    const there = await app().resolve(c);
    if (there.type !== 'unknown' || scanned.includes(c)) say('bad', t('label.taken', { code: spacedCode(c) }));
    else if (scanned.length >= most) say('bad', t('label.enough', { n: most }));
    else setScanned([...scanned, c]);
  };
  const write = async (codes: string[], print: boolean): Promise<void> => {
    if (!view || codes.length === 0) return;
    if (!(await save([{ ty: 'group.split', sub: [code], d: { to: codes, first } }], t('label.saved', { n: codes.length })))) return;
    if (print) setMade(labelsOf(codes, { name: view.batch.name, made: view.batch.mixed }, first));
    else back();
  };
  const create = (): void => {
    setTried(true);
    if (right) void write(newCodes('B', n), true);
  };

  if (view === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (view === null) return <main class="screen" id="main"><ErrorNote what={t('bag.unknown')} todo={t('unknown.todo')} /></main>;
  if (made) {
    return (
      <main class="screen" id="main">
        <Head title={view.batch.name} sub={t('label.made', { n: made.length })} />
        <PrintLabels labels={made} name={view.batch.name} />
        <a class="btn" href={to('bag', code)}>{t('label.back_to_group')}</a>
      </main>
    );
  }
  return (
    <main class="screen" id="main">
      <Head title={t('label.title')} sub={`${partName(code, view.part)} · ${view.batch.name}`} />
      <div class="sides">
        <section class="card">
          <h2>{t('label.new')}</h2>
          <label class="field"><span class="field-label">{t('label.how_many', { max: num(most) })}</span>
            <input class="input" inputMode="numeric" value={text} aria-invalid={tried && !right} onInput={(e) => setText(e.currentTarget.value)} /></label>
          {tried && !right && <p class="wrong" role="alert">{t('label.how_many.wrong', { max: num(most) })}</p>}
          <button type="button" class="btn btn-first" onClick={create}>{t('label.make')}</button>
        </section>
        <section class="card">
          <h2>{t('label.scan')}</h2>
          <p class="small">{t('label.scan.words', { first })}</p>
          <ScanPane />
          <CodeEntry letter="B" onCode={(c) => void stick(c)} />
          {scanned.length > 0 && (
            <>
              <div class="chips">{scanned.map((c) => <button type="button" class="chip code" key={c} aria-label={t('label.leave_out', { code: spacedCode(c) })} onClick={() => setScanned(scanned.filter((x) => x !== c))}>{spacedCode(c)} ×</button>)}</div>
              <button type="button" class="btn btn-first" onClick={() => void write(scanned, false)}>{t('label.stick', { n: scanned.length })}</button>
            </>
          )}
        </section>
      </div>
    </main>
  );
}

/** A blank label was scanned: which group does its bag come from? */
export function Adopt({ code }: { code: string }) {
  void app().changed.value;
  const rows = app().find({}).filter((r) => r.codes.some((c) => !c.startsWith('B')));
  const adopt = async (group: string, batch: string): Promise<void> => {
    const view = await app().batch(batch);
    const first = nextNumber(view?.parts ?? {}, app().device.value?.letter ?? 'A');
    const group_tag = code.startsWith('G');
    const n = view?.parts[group]?.n ?? 0;
    const d = group_tag ? { to: [code], n } : { to: [code], first };
    if (await save([{ ty: 'group.split', sub: [group], d }], t('label.saved', { n: group_tag ? n : 1 }))) goInstead('bag', code);
  };
  const groups = rows.flatMap((r) => r.codes.filter((c) => !c.startsWith('B')).map((c) => ({ ...r, code: c })));
  const counts = useAnswer(() => Promise.all(groups.map(async (g) => (await app().part(g.code))?.part.n)), [groups.map((g) => g.code).join()]);
  return (
    <main class="screen" id="main">
      <Head title={t('adopt.title')} sub={spacedCode(code)} />
      <p>{t('adopt.words')}</p>
      {groups.length === 0 && <><p class="quiet">{t('adopt.none')}</p><a class="btn" href={to('new-batch')}>{t('screen.new-batch')}</a><a class="btn" href={to('opening')}>{t('screen.opening')}</a></>}
      <ul class="list">{groups.map((g, i) => (
        <li key={g.code}><button type="button" class="item" onClick={() => void adopt(g.code, g.batch)}><span><b dir="auto">{g.name}</b><span class="sub">{[t(`stage.${g.stage}`), g.place && placeName(g.place)].filter(Boolean).join(' · ')}</span></span><span class="qty">{g.codes.length === 1 ? g.n : counts?.[i] ?? ''}</span></button></li>
      ))}</ul>
    </main>
  );
}

/** Prints labels again: all of a batch, some by their numbers, or one; or the tag of a place, lot or person. */
export function Print({ code }: { code: string }) {
  const batch = useAnswer(() => (code.startsWith('M') ? app().batch(code) : Promise.resolve(null)), [code]);
  const one = useAnswer(() => (code.startsWith('M') ? Promise.resolve(null) : labelsFor([code])), [code]);
  const [from, setFrom] = useState('');
  const [upTo, setUpTo] = useState('');
  if (!code.startsWith('M')) {
    return <main class="screen" id="main"><Head title={anyName(code)} sub={t('print.again')} />{one && <PrintLabels labels={one} name={anyName(code)} job="again" />}</main>;
  }
  if (batch === undefined) return <main class="screen" id="main"><Loading /></main>;
  const labels = batch ? labelsOfParts(Object.entries(batch.parts).filter(([, p]) => !p.end && p.n > 0), { name: batch.name, made: batch.mixed, what: batch.recipe }) : [];
  const some = between(labels, from, upTo);
  return (
    <main class="screen" id="main">
      <Head title={batch?.name ?? ''} sub={t('print.again')} />
      {labels.length > 1 && (
        <details class="card"><summary>{t('label_set.range')}</summary>
          <div class="row">
            <label class="field grow"><span class="field-label">{t('label_set.range.from')}</span><input class="input" autoComplete="off" value={from} onInput={(e) => setFrom(e.currentTarget.value)} /></label>
            <label class="field grow"><span class="field-label">{t('label_set.range.to')}</span><input class="input" autoComplete="off" value={upTo} onInput={(e) => setUpTo(e.currentTarget.value)} /></label>
          </div>
          {some.length === 0 && <p class="wrong" role="alert">{t('label_set.range.none')}</p>}
        </details>
      )}
      {some.length > 0 && <PrintLabels key={some.map(({ code: c }) => c).join()} labels={some} name={batch?.name ?? ''} job="again" />}
      {labels.length === 0 && <p>{t('print.none')}</p>}
      {batch && <Pdf title={t('label_set.sheet')} about={t('label_set.sheet.about')} name={batch.name} make={() => app().labels('/sheet', 'application/pdf', { batch: code })} />}
    </main>
  );
}
