/** Rows of the answers: a part in a list, a table of counts. */
import type { Found, Part } from '../app-types';
import { t } from '../i18n';
import { dayAge, share } from '../i18n/format';
import { BagSign, lookOf, lookWords } from '../ui/BagSign';
import { ENDS } from '../ui/catalogue';
import { Mark } from '../ui/Mark';
import { placeName, placePath, strainName } from '../ui/names';

/** One row of an answer: batch, strain, stage, place and count, with the bag's sign. */
export function FoundRow({ row, showBatch }: { row: Found; showBatch: boolean }) {
  const look: Pick<Part, 'stage' | 'since'> & Partial<Part> = {
    stage: row.stage, since: row.since, ...(row.bad ? { bad: { sign: '', t: row.since } } : {}),
  };
  const over = ENDS.includes(row.stage);
  if (over) look.end = row.stage;
  return (
    <>
      <BagSign look={lookOf(look)} size={48} />
      <span>
        <b dir="auto">{showBatch ? row.name : row.place ? placeName(row.place) : t(over ? 'bag.gone' : 'name.no_place')}</b>
        <span class="sub" dir="auto">{over ? t(`end.${row.stage}`) : lookWords(look)}, {dayAge(row.since)}{row.strain ? ` · ${strainName(row.strain)}` : ''}</span>
        {showBatch && !over && <span class="sub" dir="auto">{placePath(row.place)}</span>}
      </span>
      <span class="qty">{row.n}</span>
    </>
  );
}

/** Counts as bars with their figures; a bar is only the picture of the figure beside it. */
export function Counts({ rows, whole }: { rows: { key: string; name: string; n: number; href?: string }[]; whole: number }) {
  return (
    <ul class="list">
      {rows.map((r) => {
        const inner = (
          <>
            <span><b dir="auto">{r.name}</b><span class="bar" aria-hidden="true" style={{ marginTop: '6px' }}><i style={{ width: `${whole > 0 ? Math.max(0, Math.min(100, (r.n / whole) * 100)) : 0}%` }} /></span></span>
            <span class="qty">{r.n}<span class="sub">{share(r.n, whole)}</span></span>
          </>
        );
        return <li key={r.key}>{r.href ? <a href={r.href}>{inner}</a> : <div class="item-still">{inner}</div>}</li>;
      })}
    </ul>
  );
}

/** Why there is no history: the batch ended long ago, and this device keeps its sums only. */
export const ArchivedNote = () => <p class="note note-care"><Mark kind="care" size={24} /><span>{t('batch.archived')} {t('batch.archived.todo')}</span></p>;
