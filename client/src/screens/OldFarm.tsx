/** Records of another farm that wait until the owner or a manager lets them count: all of them in one touch. */
import { useState } from 'preact/hooks';
import type { Held } from '../app-types';
import { t } from '../i18n';
import '../i18n/rest';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { errorWords } from '../ui/act';
import { say } from '../ui/toast';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';

/** Why the fold holds them. */
export const FOREIGN = 'foreign';

export function OldFarm({ held }: { held: Held[] }) {
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [busy, setBusy] = useState(false);
  if (!held.length) return null;
  const role = app().device.value?.role;
  const boss = role === 'owner' || role === 'manager';
  // In order, not by Math.min(...): there may be more of them than a call takes arguments.
  const times = held.map(({ line }) => line.t).sort((x, y) => x - y);
  const admit = (): void => {
    setBusy(true);
    setWrong(null);
    app().desk().then((desk) => desk.admitForeign())
      .then((n) => say('ok', t('old_farm.admitted', { n })), (error: unknown) => setWrong(errorWords(error)))
      .finally(() => setBusy(false));
  };
  return (
    <section class="card" data-old-farm>
      <h2>{t('old_farm.title', { n: held.length })}</h2>
      <p><Mark kind="ask" size={22} /> {t('old_farm.words', {
        phones: new Set(held.map(({ line }) => line.dev)).size, from: when(times[0]!), to: when(times.at(-1)!),
      })}</p>
      <p class="small">{t('old_farm.todo')}</p>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {boss && <button type="button" class="btn btn-wide" disabled={busy} onClick={admit}>{t(busy ? 'old_farm.admitting' : 'old_farm.admit', { n: held.length })}</button>}
      {!boss && <p class="small quiet">{t('held.ask_boss')}</p>}
    </section>
  );
}
