/** Records carried by hand: into a file on a device that cannot reach the farm's computer, out of it on another. */
import { useEffect, useState } from 'preact/hooks';
import { AppError, type FileStanding } from '../app-types';
import { t } from '../i18n';
import '../i18n/rest';
import '../style/floor.css';
import { app } from '../ui/app';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import { fileWords } from './filewords';

type Said = { kind: 'ok' | 'ask'; words: string };

export function FileCard() {
  const a = app();
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [said, setSaid] = useState<Said | null>(null);
  const [standing, setStanding] = useState<FileStanding | null>(null);
  /** A file of another farm, until a person has said whether it is wanted. */
  const [old, setOld] = useState<{ file: File; n: number } | null>(null);
  const [left, setLeft] = useState<{ farm: string; tag: string; n: number }[]>([]);
  useEffect(() => { void a.desk().then((desk) => desk.leftFarms()).then(setLeft, () => undefined); }, []);
  const [busy, setBusy] = useState(false);
  // Looked at again whenever something was sent or came in, or the link changed.
  const turn = `${a.changed.value} ${a.unsent.value.count} ${a.link.value.heard ?? ''}`;
  useEffect(() => { void a.desk().then((desk) => desk.fileStanding()).then(setStanding, () => undefined); }, [turn, said]);
  const doing = (work: () => Promise<Said>): void => {
    if (busy) return;
    setBusy(true);
    setWrong(null);
    setSaid(null);
    work().then(setSaid, (error: unknown) => {
      if (!(error instanceof AppError && error.code === 'file_old_farm')) setWrong(fileWords(error));
    }).finally(() => setBusy(false));
  };
  const write = (farm?: string): void => doing(async () => {
    const desk = await a.desk();
    const { file, name, waiting, all } = farm === undefined ? await desk.toFile() : await desk.leftFile(farm);
    hand(file, name);
    return { kind: 'ok', words: t('carry.written', { waiting, all, name }) };
  });
  const read = (file: File | undefined, foreign = false): void => {
    if (!file) return;
    setOld(null);
    doing(async () => {
      const { fresh, known, torn } = await (await a.desk()).fromFile(file, foreign).catch((error: unknown) => {
        if (error instanceof AppError && error.code === 'file_old_farm') setOld({ file, n: Number(error.details['n']) });
        throw error;
      });
      const words = t('carry.taken', { fresh, known });
      return torn ? { kind: 'ask', words: `${words} ${t('carry.torn')}` } : { kind: 'ok', words };
    });
  };
  return (
    <section class="card" data-carry>
      <h2>{t('carry.title')}</h2>
      <p class="small">{t('carry.words')}</p>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {said && <p role="status"><Mark kind={said.kind} size={22} /> {said.words}</p>}
      {old && (
        <div class="note note-ask" role="alert">
          <Mark kind="ask" /><strong>{t('carry.old_farm', { n: old.n })}</strong>
          <span>{t('carry.old_farm.todo')}</span>
          <div class="stack-close">
            <button type="button" class="btn btn-wide" onClick={() => read(old.file, true)}>{t('carry.old_farm.take')}</button>
            <button type="button" class="btn btn-wide" onClick={() => setOld(null)}>{t('carry.old_farm.leave')}</button>
          </div>
        </div>
      )}
      {standing && <Standing of={standing} />}
      <div class="stack-close">
        <button type="button" class="btn btn-wide" disabled={busy} onClick={() => write()}>{t('carry.write')}</button>
        {left.map(({ farm, tag, n }) => (
          <button type="button" key={farm} class="btn btn-wide" disabled={busy} onClick={() => write(farm)}>{t('carry.write_left', { tag, n })}</button>
        ))}
        <label class="btn btn-wide file">{t('carry.read')}
          <input type="file" disabled={busy}
            onChange={(e) => { read(e.currentTarget.files?.[0]); e.currentTarget.value = ''; }} /></label>
      </div>
    </section>
  );
}

function Standing({ of: { waiting, arrived, known, held, refused } }: { of: FileStanding }) {
  if (!(waiting + arrived + known + held + refused)) return null;
  const ok = waiting + held + refused === 0;
  return (
    <p data-standing><Mark kind={ok ? 'ok' : 'ask'} size={22} /> {t('carry.standing', { waiting, arrived, known, held, refused })}
      {held > 0 && <> {t('carry.held')}</>}{refused > 0 && <> {t('carry.refused')}</>}</p>
  );
}

function hand(file: Blob, name: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  // The download reads it after the click; on a slow phone well after.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
