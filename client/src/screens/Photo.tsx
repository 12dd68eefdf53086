/** A photograph of a bag: taken with or without a network, shown before it is kept, a word to it if wanted. */
import { useEffect, useState } from 'preact/hooks';
import { AppError } from '../app-types';
import { t } from '../i18n';
import { photos } from '../photos';
import { shrink } from '../photos/shrink';
import { errorWords, save, saving } from '../ui/act';
import { anyName } from '../ui/names';
import { ErrorNote } from '../ui/Notes';
import { back } from '../ui/route';
import { tell } from '../scan/feedback';
import { Head } from './parts';

export function Photo({ code }: { code: string }) {
  const [bytes, setBytes] = useState<Uint8Array<ArrayBuffer> | null>(null);
  const [url, setUrl] = useState('');
  const [note, setNote] = useState('');
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    if (!bytes) return undefined;
    const made = URL.createObjectURL(new Blob([bytes], { type: 'image/jpeg' }));
    setUrl(made);
    return () => URL.revokeObjectURL(made);
  }, [bytes]);
  const take = async (input: HTMLInputElement): Promise<void> => {
    const file = input.files?.[0];
    input.value = ''; // the same file may be chosen again
    if (!file) return;
    setBusy(true);
    setWrong(null);
    try {
      setBytes(await shrink(file));
    } catch {
      setWrong({ what: t('photo.unreadable'), todo: t('photo.unreadable.todo') });
    } finally {
      setBusy(false);
    }
  };
  const keep = async (): Promise<void> => {
    if (!bytes || busy || saving.value) return;
    setBusy(true);
    setWrong(null);
    try {
      const sha = await photos.keep(bytes);
      const lines = await save([{ ty: 'bag.photographed', sub: [code], d: { sha256: sha, bytes: bytes.length, ...(note.trim() ? { note: note.trim() } : {}) } }], t('photo.saved', { name: anyName(code) }));
      if (!lines) {
        await photos.forget(sha);
        return;
      }
      photos.soon();
      back();
    } catch (error) {
      tell('wrong');
      setWrong(error instanceof AppError && error.code === 'photos_full' ? { what: t('photo.full'), todo: t('photo.full.todo') } : errorWords(error));
    } finally {
      setBusy(false);
    }
  };
  return (
    <main class="screen" id="main">
      <Head title={t('photo.title')} sub={anyName(code)} />
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {photos.stuck.value && <ErrorNote what={t('photo.stuck.full')} todo={t('photo.stuck.full.todo')} />}
      {url && <img class="photo" src={url} alt={t('photo.new')} />}
      <label class={`btn file ${bytes ? '' : 'btn-first'}`}>{t(bytes ? 'photo.other' : 'photo.take')}
        <input type="file" accept="image/*" capture="environment" disabled={busy} onChange={(e) => void take(e.currentTarget)} /></label>
      {bytes && (
        <>
          <label class="field"><span class="field-label">{t('field.bag_photographed.note')} <span class="must">{t('field.optional')}</span></span>
            <input class="input" maxLength={200} value={note} onInput={(e) => setNote(e.currentTarget.value)} /></label>
          <button type="button" class="btn btn-first" disabled={busy} onClick={() => void keep()}>{t('photo.keep')}</button>
        </>
      )}
      <p class="small quiet">{t('photo.about')}</p>
    </main>
  );
}
