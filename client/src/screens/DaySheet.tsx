/** The paper day sheet typed in: its rows as they were written, each saved with its own time; a wrong one stays and says why. */
import { useState } from 'preact/hooks';
import { choiceName, t } from '../i18n';
import { DAY, fromWall, noon, wall } from '../i18n/format';
import { normalise } from '../ids';
import { KINDS } from '../catalogue';
import { clockFigures, draftsOf, ROW_ACTS, ROW_CHOICES, type Lookup, type Meant, type Row, type RowAct, type Wrong } from '../round/daysheet';
import { app } from '../ui/app';
import { errorWords, newRound } from '../ui/act';
import { ErrorNote } from '../ui/Notes';
import { findTarget } from './target';
import { say } from '../ui/toast';
import { tell } from '../scan/feedback';
import { Head } from './parts';

const EMPTY: Row = { time: '', act: 'inoculated', what: '', n: '', to: '', g: '', choices: {} };
const two = (n: number): string => String(n).padStart(2, '0');
const plain = (text: unknown): string => String(text ?? '').trim().toLowerCase();

/** One of a table by its code or its name; names that fit several are not guessed among. */
function named(table: Record<string, { name?: string }>, text: string, name: (code: string) => string): Meant {
  const code = normalise(text);
  if (code in table) return { code, n: 0 };
  const found = Object.keys(table).filter((one) => text !== '' && plain(name(one)) === plain(text));
  return found.length === 1 ? { code: found[0] as string, n: 0 } : found.length ? 'several' : 'unknown';
}

function lookup(date: string): Lookup {
  const { places, spawn, strains } = app().ref.value;
  return {
    async what(text) {
      const rows = text ? app().find({ text }) : [];
      const batches = [...new Set(rows.filter((row) => plain(row.name) === plain(text)).map((row) => row.batch))];
      if (batches.length > 1) return 'several';
      const number = rows.length === 1 && rows[0]?.codes.length === 1 ? rows[0].codes[0] : undefined;
      const target = await findTarget(batches[0] ?? number ?? normalise(text));
      if (!target || target.type === 'thing') return 'unknown';
      const view = target.type === 'batch' ? await app().batch(target.code) : null;
      const groups = Object.entries(view?.parts ?? {}).filter(([c, p]) => !c.startsWith('B') && !p.end && p.n > 0).map(([code, p]) => ({ code, n: p.n })).sort((a, b) => b.n - a.n);
      if (target.type === 'part' && !target.code.startsWith('B')) groups.push({ code: target.code, n: target.n });
      return { code: target.code, n: target.n, groups, of: target.of, next: target.part?.next ?? Math.max(1, target.part?.flush ?? 1) };
    },
    place: (text) => named(places, text, (code) => String(places[code]?.name ?? '')),
    lot: (text) => named(spawn, text, (code) => String(strains[String(spawn[code]?.['strain'])]?.name ?? '')),
    on(time) {
      const [y, m, d] = date.split('-').map(Number);
      if (!y || !m || !d) return null;
      if (time.trim() === '') return { ms: Math.min(noon(y, m, d), Date.now()), p: 'd' };
      const clock = clockFigures(time);
      if (!clock) return null;
      const ms = fromWall({ y, m, d, ...clock });
      return ms > Date.now() ? 'future' : { ms, p: 'm' };
    },
  };
}

export function DaySheet() {
  const now = wall(Date.now());
  const today = `${now.y}-${two(now.m)}-${two(now.d)}`;
  const before = wall(Date.now() - DAY);
  const [date, setDate] = useState(today);
  const [rows, setRows] = useState<Row[]>([EMPTY, EMPTY, EMPTY]);
  const [wrongs, setWrongs] = useState<(Wrong | null)[]>([]);
  const [busy, setBusy] = useState(false);
  const [saved, setSaved] = useState(0);
  const set = (i: number, change: Partial<Row>): void => {
    const next = rows.map((row, at) => (at === i ? { ...row, ...change } : row));
    // There is always an empty row below: nobody reaches for a button between two lines.
    setRows(next.at(-1)?.what || next.at(-1)?.time ? [...next, EMPTY] : next);
    setWrongs(wrongs.map((w, at) => (at === i ? null : w)));
  };
  const save = async (e: Event): Promise<void> => {
    e.preventDefault();
    if (busy) return;
    setBusy(true);
    const find = lookup(date);
    const rnd = newRound();
    const left: Row[] = [];
    const why: (Wrong | null)[] = [];
    let done = 0;
    for (const row of rows) {
      if (!row.what.trim() && !row.time.trim()) continue;
      const made = await draftsOf(row, find);
      if (!Array.isArray(made)) {
        left.push(row);
        why.push(made);
        continue;
      }
      try {
        await app().write(made.map((draft) => ({ ...draft, rnd })));
        done += 1;
      } catch (error) {
        const { what, todo } = errorWords(error);
        say('bad', `${what} ${todo}`.trim());
        left.push(row);
        why.push(null);
      }
    }
    tell(left.length ? 'wrong' : 'taken');
    if (done) say('ok', t('day.saved', { n: done }));
    setSaved((n) => n + done);
    setRows([...left, EMPTY]);
    setWrongs([...why, null]);
    setBusy(false);
  };
  return (
    <main class="screen" id="main">
      <Head title={t('floor.day-sheet')} sub={saved ? t('day.done', { n: saved }) : t('floor.day-sheet.about')} />
      <form class="stack" style={{ maxWidth: 'none' }} onSubmit={(e) => void save(e)} noValidate>
        <label class="field" style={{ maxWidth: '16rem' }}><span class="field-label">{t('day.date')}</span>
          <input class="input" type="date" max={today} min={`${before.y - 1}-01-01`} value={date} onInput={(e) => setDate(e.currentTarget.value)} /></label>
        <div class="tablewrap">
          <table class="day-rows">
            <thead><tr>{(['time', 'act', 'what', 'n', 'to', 'g'] as const).map((c) => <th key={c}>{t(`day.${c}`)}</th>)}</tr></thead>
            <tbody>{rows.map((row, i) => <RowOf key={i} row={row} nth={i + 1} wrong={wrongs[i] ?? null} set={(change) => set(i, change)} />)}</tbody>
          </table>
        </div>
        <button type="submit" class="btn btn-first" disabled={busy} aria-busy={busy}>{t('day.save')}</button>
      </form>
    </main>
  );
}

function RowOf({ row, nth, wrong, set }: { row: Row; nth: number; wrong: Wrong | null; set: (change: Partial<Row>) => void }) {
  const field = (name: 'time' | 'what' | 'n' | 'to' | 'g', more: object = {}) => (
    <td><input class="input" value={row[name]} aria-label={t('day.cell', { column: t(`day.${name}`), n: nth })} placeholder={t(`day.${name}.like`)} autoComplete="off" dir="auto"
      aria-invalid={wrong?.field === name} onInput={(e) => set({ [name]: e.currentTarget.value })} {...more} /></td>
  );
  const choices = ROW_CHOICES[row.act] ?? [];
  return (
    <>
      <tr>
        {field('time', { inputMode: 'numeric' })}
        <td><select class="input" value={row.act} aria-label={t('day.cell', { column: t('day.act'), n: nth })} onChange={(e) => set({ act: e.currentTarget.value as RowAct, choices: {} })}>
          {ROW_ACTS.map((act) => <option key={act} value={act}>{t(`day.act.${act}`)}</option>)}</select></td>
        {field('what')}
        {field('n', { inputMode: 'numeric' })}
        {field('to')}
        {field('g', { inputMode: 'numeric' })}
      </tr>
      {choices.length > 0 && (
        <tr><td colSpan={6}><div class="row">{choices.map((name) => (
          <select key={name} class="input grow" style={{ width: 'auto' }} value={row.choices[name] ?? ''} aria-label={t('day.cell', { column: t(`round.choose.${name}`), n: nth })} onChange={(e) => set({ choices: { ...row.choices, [name]: e.currentTarget.value } })}>
            <option value="">{t(`round.choose.${name}`)}</option>
            {(KINDS.get(`bag.${row.act}`)?.fields.find((f) => f.name === name)?.choices ?? []).map((word) => <option key={word} value={word}>{choiceName(name, word)}</option>)}
          </select>
        ))}</div></td></tr>
      )}
      {wrong && <tr><td colSpan={6}><ErrorNote what={t(`day.wrong.${wrong.why}`)} todo={t(`day.wrong.${wrong.why}.todo`)} /></td></tr>}
    </>
  );
}
