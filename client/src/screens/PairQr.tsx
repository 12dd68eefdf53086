/** What the desk shows a new phone: the square of the page it opens first, and the code both screens must show. */
import { useEffect, useState } from 'preact/hooks';
import type { Invitation } from '../app-types';
import { t } from '../i18n';
import '../i18n/rest';
import { app } from '../ui/app';
import { errorWords } from '../ui/act';
import { Icon } from '../ui/Icon';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';

export function PairQr({ invitation }: { invitation: Invitation | null }) {
  if (!invitation) return <p class="note note-ask"><Mark kind="ask" /><span>{t('pair_qr.none')}</span></p>;
  const side = invitation.qr.length;
  return (
    <div class="stack">
      <p>{t('pair_qr.scan')}</p>
      {/* White in every theme: cameras read dark on light. */}
      <svg viewBox={`0 0 ${side} ${side}`} role="img" aria-label={t('pair_qr.square', { url: invitation.url })} style={{ width: '100%', maxWidth: '18rem' }}>
        <path fill="#fff" d={`M0 0h${side}v${side}H0z`} />
        <path fill="#000" d={squares(invitation.qr)} />
      </svg>
      <p class="small" dir="auto">{invitation.url}</p>
      {invitation.check && <p>{t('pair_qr.compare')} <strong class="code" style={{ fontSize: 'var(--t-title)' }}>{invitation.check}</strong></p>}
      {invitation.check && <Sheet />}
    </div>
  );
}

/** Each row's dark runs as one path, so that no gap shows between modules. */
export function squares(rows: string[]): string {
  return rows.flatMap((row, y) => [...row.matchAll(/1+/g)].map((run) => `M${run.index} ${y}h${run[0].length}v1h-${run[0].length}z`)).join('');
}

/** The same steps on paper. */
function Sheet() {
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [url, setUrl] = useState('');
  useEffect(() => () => { if (url) URL.revokeObjectURL(url); }, [url]);
  const make = (): void => {
    setBusy(true);
    setWrong(null);
    app().pairingSheet().then((pdf) => setUrl(URL.createObjectURL(pdf)), (e: unknown) => setWrong(errorWords(e))).finally(() => setBusy(false));
  };
  return (
    <>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {url ? <a class="btn" href={url} target="_blank" rel="noopener"><Icon name="print" />{t('pair_qr.open')}</a>
        : <button type="button" class="btn" disabled={busy} onClick={make}><Icon name="print" />{t('pair_qr.sheet')}</button>}
    </>
  );
}
