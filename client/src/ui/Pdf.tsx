/** A page made by the farm's computer as a PDF: made, then opened or kept. */
import { useEffect, useState } from 'preact/hooks';
import { t } from '../i18n';
import { errorWords } from './act';
import { Icon } from './Icon';
import { ErrorNote } from './Notes';

export function Pdf({ title, about, name, make }: { title: string; about: string; name: string; make: () => Promise<Blob> }) {
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [url, setUrl] = useState<string | null>(null);
  useEffect(() => () => { if (url) URL.revokeObjectURL(url); }, [url]);
  const draw = (): void => {
    setBusy(true);
    setWrong(null);
    make().then((blob) => setUrl(URL.createObjectURL(blob)), (error: unknown) => setWrong(errorWords(error))).finally(() => setBusy(false));
  };
  return (
    <section class="card">
      <h2>{title}</h2>
      <p class="small">{about}</p>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!url && <button type="button" class="btn" disabled={busy} onClick={draw}><Icon name="print" />{busy ? t('print.busy') : t('pdf.make', { title })}</button>}
      {url && <a class="btn btn-act" href={url} target="_blank" rel="noopener"><Icon name="print" />{t('pdf.open', { title })}</a>}
      {url && <a class="btn" href={url} download={`${name}.pdf`}>{t('pdf.keep', { title })}</a>}
    </section>
  );
}
