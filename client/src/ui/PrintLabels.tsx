/** A sheet of labels: made by the farm's computer as a PDF, then opened, shared or kept; and told as a record. */
import { useEffect, useState } from 'preact/hooks';
import { AppError, type Label } from '../app-types';
import { has, num, t } from '../i18n';
import { cellsOf, DPIS, farmStock, keepPrinter, measures, MOST_NUDGE_MM, onPaper, printer, startAfter, USUAL, type Printer } from '../labels/printer';
import { printedDrafts, type Job } from '../labels/prints';
import { app } from './app';
import { errorWords } from './act';
import { ChoiceGrid } from './Choice';
import { Icon } from './Icon';
import { ErrorNote } from './Notes';
import { to } from './route';

const ROLL = 'roll-50x30';
/** Labels in one request (server: schemas.LabelsIn). */
const MOST_AT_ONCE = 2_000;

/** A stock in words: by its name where it has one, else by its measures. */
export function stockName(stock: string): { name: string; about?: string } {
  if (has(`stock.${stock}`)) return { name: t(`stock.${stock}`), about: t(`stock.${stock}.about`) };
  const own = measures(stock);
  if (own) return { name: t('stock.own'), about: t('stock.size', { w: num(Number(own['label_width'])), h: num(Number(own['label_height'])) }) };
  const roll = /^roll-([\d.]+)x([\d.]+)$/.exec(stock);
  if (roll) return { name: t('stock.roll'), about: t('stock.size', { w: num(Number(roll[1])), h: num(Number(roll[2])) }) };
  const sheet = /^(a4|letter)-(\d+)$/.exec(stock);
  return sheet ? { name: t(`stock.${sheet[1]}`, { n: Number(sheet[2]) }) } : { name: stock };
}

/** The farm's computer says exactly what does not fit; its sentence is better than a general one. */
export function labelTrouble(error: unknown): { what: string; todo: string } {
  if (error instanceof AppError && error.code === 'bad_label' && error.details['reason']) return { what: error.message, todo: error.todo };
  return errorWords(error);
}

export function PrintLabels({ labels, name, job = 'first' }: { labels: Label[]; name: string; job?: Job }) {
  const [on, setOn] = useState<Printer>(printer);
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [pdf, setPdf] = useState<{ url: string; file: File } | null>(null);
  useEffect(() => () => { if (pdf) URL.revokeObjectURL(pdf.url); }, [pdf]);
  const change = (more: Partial<Printer>): void => {
    const next = { ...on, ...more };
    if (more.stock !== undefined && more.stock !== on.stock) next.start = 0;
    setOn(next);
    keepPrinter(next);
    setPdf(null);
    setWrong(null);
  };
  const make = async (): Promise<void> => {
    setBusy(true);
    setWrong(null);
    try {
      const blob = await app().labels('', 'application/pdf', { ...onPaper(on), start: on.start, labels });
      const file = new File([blob], `${name.replace(/[^\p{L}\p{N} -]/gu, '').trim() || 'labels'}.pdf`, { type: 'application/pdf' });
      await app().write(printedDrafts(labels, job, on.stock));
      setPdf({ url: URL.createObjectURL(blob), file });
      keepPrinter({ ...on, start: startAfter(on, labels.length) });
    } catch (error) {
      setWrong(labelTrouble(error));
    } finally {
      setBusy(false);
    }
  };
  const canShare = pdf !== null && typeof navigator.canShare === 'function' && navigator.canShare({ files: [pdf.file] });
  const stocks = [...new Set([farmStock(), on.stock, USUAL, ROLL])];
  const tooMany = labels.length > MOST_AT_ONCE;
  return (
    <section class="card">
      <h2>{t('print.title', { n: labels.length })}</h2>
      <ChoiceGrid label={t('print.stock')} value={on.stock} onPick={(stock) => change({ stock })}
        options={stocks.map((s) => ({ value: s, ...stockName(s) }))} />
      <details>
        <summary>{t('print.printer')}{on.start > 0 ? ` · ${t('print.start.at', { n: on.start + 1 })}` : ''}</summary>
        <div class="stack">
          <PrinterForm on={on} onChange={change} />
          <a class="btn" href={to('labels', 'stock')}>{t('print.more_stock')}</a>
        </div>
      </details>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {tooMany && <p class="wrong" role="alert">{t('print.too_many', { n: MOST_AT_ONCE })}</p>}
      {!pdf && <button type="button" class="btn btn-first" disabled={busy || labels.length === 0 || tooMany} onClick={() => void make()}><Icon name="print" />{busy ? t('print.busy') : t('print.make')}</button>}
      {pdf && (
        <div class="stack">
          <a class="btn btn-first" href={pdf.url} target="_blank" rel="noopener"><Icon name="print" />{t('print.open')}</a>
          <a class="btn" href={pdf.url} download={pdf.file.name}>{t('print.keep')}</a>
          {canShare && <button type="button" class="btn" onClick={() => void navigator.share({ files: [pdf.file] }).catch(() => undefined)}>{t('print.share')}</button>}
        </div>
      )}
      <p class="small quiet">{t('print.size')}</p>
    </section>
  );
}

/** Used cells of the sheet, dots of the printer, and how far it feeds off. */
export function PrinterForm({ on, onChange }: { on: Printer; onChange: (more: Partial<Printer>) => void }) {
  const cells = cellsOf(on.stock);
  return (
    <div class="stack">
      {cells > 1 && <Figure label={t('print.start', { n: cells })} value={on.start} least={0} most={cells - 1} whole onChange={(start) => onChange({ start })} />}
      <ChoiceGrid label={t('print.dpi')} value={String(on.dpi)} onPick={(dpi) => onChange({ dpi: Number(dpi) })} options={DPIS.map((dpi) => ({ value: String(dpi), name: num(dpi) }))} />
      <Figure label={t('print.nudge_x')} value={on.x} least={-MOST_NUDGE_MM} most={MOST_NUDGE_MM} onChange={(x) => onChange({ x })} />
      <Figure label={t('print.nudge_y')} value={on.y} least={-MOST_NUDGE_MM} most={MOST_NUDGE_MM} onChange={(y) => onChange({ y })} />
    </div>
  );
}

interface FigureProps { label: string; value: number; least: number; most: number; whole?: boolean; onChange: (value: number) => void }

function Figure({ label, value, least, most, whole, onChange }: FigureProps) {
  const [text, setText] = useState(String(value));
  const parse = (typed: string): number => {
    const plain = typed.trim().replace(',', '.').replace('−', '-');
    const n = plain === '' ? 0 : Number(plain);
    return Number.isFinite(n) && n >= least && n <= most && (!whole || Number.isInteger(n)) ? n : NaN;
  };
  // Another paper begins at its first cell.
  useEffect(() => { if (parse(text) !== value && !Number.isNaN(parse(text))) setText(String(value)); }, [value]);
  const bad = Number.isNaN(parse(text));
  const set = (typed: string): void => {
    setText(typed);
    const n = parse(typed);
    if (!Number.isNaN(n)) onChange(n);
  };
  return (
    <label class="field"><span class="field-label">{label}</span>
      <input class="input" inputMode={whole ? 'numeric' : 'text'} value={text} aria-invalid={bad} onInput={(e) => set(e.currentTarget.value)} />
      {bad && <span class="wrong" role="alert">{t('print.figure.wrong', { least: num(least), most: num(most) })}</span>}
    </label>
  );
}
