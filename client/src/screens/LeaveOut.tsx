/** Single bags that an act on a batch or a place does not mean: left out by scan or by typed code. */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { app } from '../ui/app';
import { CodeEntry } from '../ui/CodeEntry';
import { anyName } from '../ui/names';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import type { Target } from './target';

/** Whether a place is another one, or lies within it, however deep; a ring in the data ends the walk. */
function isWithin(place: string | null, outer: string): boolean {
  const passed = new Set<string>();
  for (let at: unknown = place; typeof at === 'string' && !passed.has(at); at = app().ref.value.places[at]?.['within']) {
    if (at === outer) return true;
    passed.add(at);
  }
  return false;
}

/** Whether a bag or group is among those that an act on a batch or place reaches, as far as this device knows. */
export function isAmong(target: Target, code: string): boolean {
  const found = app().find({ text: code }).find(({ codes }) => codes.includes(code));
  if (!found) return false;
  return target.type === 'batch' ? found.batch === target.code : isWithin(found.place, target.code);
}

interface Props {
  target: Target;
  codes: string[];
  onChange: (codes: string[]) => void;
}

export function LeaveOut({ target, codes, onChange }: Props) {
  const [open, setOpen] = useState(false);
  const take = (code: string): void => {
    if (!'BG'.includes(code.charAt(0))) say('bad', t('scan.wrong_type', { want: t('type.B'), got: t(`type.${code.charAt(0)}`) }));
    else if (!isAmong(target, code)) say('ask', t('leave.not_here', { bag: anyName(code), name: target.name }));
    else if (!codes.includes(code)) onChange([...codes, code]);
  };
  // Closed, a scan still opens the page of what was scanned.
  useScan(open ? take : null);
  return (
    <details class="card" onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{t('leave.out', { n: codes.length })}</summary>
      <p class="small">{t('leave.out.words')}</p>
      {codes.length > 0 && (
        <div class="chips">{codes.map((c) => (
          <button type="button" class="chip" key={c} aria-label={t('leave.back', { name: anyName(c) })} onClick={() => onChange(codes.filter((x) => x !== c))}>
            <span dir="auto">{anyName(c)}</span> ×
          </button>
        ))}</div>
      )}
      {open && <><ScanPane /><CodeEntry onCode={take} open /></>}
    </details>
  );
}
