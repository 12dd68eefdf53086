/** The bags of a load by batch; while it is open, the scans that put them in can be taken back. */
import { t } from '../i18n';
import { share } from '../i18n/format';
import type { Brief } from '../findindex';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { Icon } from '../ui/Icon';
import { useAnswer } from '../ui/load';
import { anyName } from '../ui/names';
import { to } from '../ui/route';
import { batchesIn } from './loads';

/** How far back the records of a load that is being put together are looked for. */
const LOOK_BACK = 2_000;
const SHOWN = 12;

export function LoadBags({ code, parts, open }: { code: string; parts: readonly Brief[]; open: boolean }) {
  const rows = batchesIn(parts);
  return (
    <section class="stack-close" aria-label={t('load.bags')}>
      <h2>{t('load.bags')}</h2>
      {rows.length === 0 && <p class="quiet">{t('load.empty')}</p>}
      {rows.length > 0 && (
        <ul class="list">{rows.map((b) => (
          <li key={b.code}><a href={to('batch', b.code)} data-batch={b.code}><b dir="auto">{b.name}</b><span class="qty">{b.n}</span>
            <span class="sub">{[b.burst ? t('load.burst', { n: b.burst }) : '', b.melted ? t('load.melted', { n: b.melted }) : '', b.bad ? t('load.bad', { n: b.bad, share: share(b.bad, b.n) }) : ''].filter(Boolean).join(' · ') || t('load.live', { n: b.live })}</span></a></li>
        ))}</ul>
      )}
      {open && <Scans code={code} />}
    </section>
  );
}

function Scans({ code }: { code: string }) {
  const lines = useAnswer(async () => (await app().records(LOOK_BACK)).filter(({ line, voided }) => !voided && line.k === 'load.filled' && line.s[0] === code && line.s.length > 1), [code]);
  if (!lines?.length) return null;
  const back = (id: string, sub: string[], name: string): void => { void save([{ ty: 'record.voided', sub, d: { target: id, why: 'undo' } }], t('load.taken_out', { name })); };
  return (
    <details>
      <summary>{t('load.scans', { n: lines.length })}</summary>
      <ul class="list">{lines.slice(0, SHOWN).map(({ line }) => {
        const name = line.s.length > 2 ? t('load.codes', { n: line.s.length - 1 }) : anyName(line.s[1] ?? '');
        return <li key={line.id}><div class="item-still"><span dir="auto">{name}</span>
          <button type="button" class="btn btn-icon" aria-label={t('load.take_out', { name })} onClick={() => back(line.id, line.s, name)}><Icon name="undo" /></button></div></li>;
      })}</ul>
    </details>
  );
}
