/** The photographs of a bag on its page: from this device, else from the farm's computer. */
import { useEffect, useState } from 'preact/hooks';
import type { HistoryLine } from '../app-types';
import { t } from '../i18n';
import { when } from '../i18n/format';
import { photos } from '../photos';
import { app } from '../ui/app';
import { personName } from '../ui/names';
import '../style/floor.css';

const FIRST = 4;
const SHA = /^[0-9a-f]{64}$/;

export function Pictures({ lines }: { lines: HistoryLine[] }) {
  const [all, setAll] = useState(false);
  const shots = lines.filter(({ line, voided }) => line.k === 'bag.photographed' && !voided && SHA.test(String(line.d?.['sha256'])));
  if (!shots.length) return null;
  return (
    <section class="stack-close">
      <h2>{t('photo.list')}</h2>
      <ul class="photos">{shots.slice(0, all ? undefined : FIRST).map((shot) => <Shot key={shot.line.id} shot={shot} />)}</ul>
      {!all && shots.length > FIRST && <button type="button" class="btn" onClick={() => setAll(true)}>{t('photo.all', { n: shots.length })}</button>}
    </section>
  );
}

function Shot({ shot: { line } }: { shot: HistoryLine }) {
  const sha = String(line.d?.['sha256']);
  const note = typeof line.d?.['note'] === 'string' ? line.d['note'] : '';
  const [url, setUrl] = useState<string | null>('');
  useEffect(() => {
    let made = '';
    let gone = false;
    const look = async (): Promise<void> => {
      const kept = await photos.store.get(sha).catch(() => undefined);
      const blob = kept ? new Blob([kept.data], { type: 'image/jpeg' }) : await app().photo(sha);
      if (gone) return;
      made = URL.createObjectURL(blob);
      setUrl(made);
    };
    look().catch(() => { if (!gone) setUrl(null); });
    return () => { gone = true; if (made) URL.revokeObjectURL(made); };
  }, [sha]);
  const said = [when(line.t, line.o === 'd'), line.by ? personName(line.by) : '', note].filter(Boolean).join(' · ');
  return (
    <li>
      {url ? <a href={url} target="_blank"><img class="photo" src={url} alt={t('photo.of', { what: said })} /></a>
        : <p class="photo-none">{t(url === null ? 'photo.away' : 'loading')}</p>}
      <span class="small quiet" dir="auto">{said}</span>
    </li>
  );
}
