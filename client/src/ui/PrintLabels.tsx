/** A sheet of labels: made by the farm's computer as a PDF, then opened, shared or kept. */
import { useEffect, useState } from 'preact/hooks';
import type { Label, Stock } from '../app-types';
import { t } from '../i18n';
import { keepStock, lastStock } from '../screens/labels';
import { app } from './app';
import { errorWords } from './act';
import { ChoiceGrid } from './Choice';
import { Icon } from './Icon';
import { ErrorNote } from './Notes';

const STOCKS: Stock[] = ['a4-24', 'roll-50x30'];

export function PrintLabels({ labels, name }: { labels: Label[]; name: string }) {
  const [stock, setStock] = useState<Stock>(lastStock);
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [pdf, setPdf] = useState<{ url: string; file: File } | null>(null);
  useEffect(() => () => { if (pdf) URL.revokeObjectURL(pdf.url); }, [pdf]);
  const make = async (): Promise<void> => {
    setBusy(true);
    setWrong(null);
    try {
      const blob = await app().printLabels(stock, labels);
      const file = new File([blob], `${name.replace(/[^\p{L}\p{N} -]/gu, '').trim() || 'labels'}.pdf`, { type: 'application/pdf' });
      setPdf({ url: URL.createObjectURL(blob), file });
    } catch (error) {
      setWrong(errorWords(error));
    } finally {
      setBusy(false);
    }
  };
  const canShare = pdf !== null && typeof navigator.canShare === 'function' && navigator.canShare({ files: [pdf.file] });
  return (
    <section class="card">
      <h2>{t('print.title', { n: labels.length })}</h2>
      <ChoiceGrid label={t('print.stock')} value={stock} onPick={(v) => { setStock(v as Stock); keepStock(v as Stock); setPdf(null); }}
        options={STOCKS.map((s) => ({ value: s, name: t(`stock.${s}`), about: t(`stock.${s}.about`) }))} />
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!pdf && <button type="button" class="btn btn-first" disabled={busy || labels.length === 0} onClick={() => void make()}><Icon name="print" />{busy ? t('print.busy') : t('print.make')}</button>}
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
