/** A job as it would come out of the printer, drawn anew after each change; the last picture stays until then. */
import { useEffect, useState } from 'preact/hooks';
import type { Label } from '../app-types';
import { t } from '../i18n';
import { ErrorNote } from '../ui/Notes';
import { labelTrouble } from '../ui/PrintLabels';
import { preview } from './ask';

/** After the last touch (ms): a picture for every letter typed would only be thrown away. */
const REST_MS = 350;

export function Picture({ job, labels }: { job: object; labels: Label[] }) {
  const [url, setUrl] = useState<string | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const key = JSON.stringify([job, labels]);
  useEffect(() => {
    let live = true;
    const timer = setTimeout(() => {
      preview(job, labels).then((blob) => {
        if (!live) return;
        setWrong(null);
        setUrl((old) => { if (old) URL.revokeObjectURL(old); return URL.createObjectURL(blob); });
      }, (error: unknown) => { if (live) setWrong(labelTrouble(error)); });
    }, REST_MS);
    return () => { live = false; clearTimeout(timer); };
  }, [key]);
  useEffect(() => () => { if (url) URL.revokeObjectURL(url); }, []);
  return (
    <figure class="label-picture">
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {url && !wrong && <img src={url} alt={t('label_set.picture')} />}
      {!url && !wrong && <p class="quiet" role="status">{t('loading')}</p>}
    </figure>
  );
}
