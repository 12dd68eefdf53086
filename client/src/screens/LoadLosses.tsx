/** Bags that burst or melted in the heat: written off by cause, by scan or by count of those without a label. */
import { useState } from 'preact/hooks';
import { choiceName, t } from '../i18n';
import type { Brief } from '../findindex';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { CodeEntry } from '../ui/CodeEntry';
import { partName } from '../ui/names';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { batchesIn, type BatchIn } from './loads';

const CAUSES = ['burst', 'melted'];

export function LoadLosses({ code, parts }: { code: string; parts: readonly Brief[] }) {
  const [cause, setCause] = useState<string | null>(null);
  const live = batchesIn(parts.filter((part) => !part.ended && part.n > 0));
  const writeOff = async (scanned: string): Promise<void> => {
    const part = parts.find((one) => one.code === scanned);
    if (!cause) { say('ask', t('load.losses.cause_first')); return; }
    if (!part) { say('bad', t('load.losses.not_in')); return; }
    if (part.ended) { say('ask', t('round.misfit.ended', { name: partName(part.code, part) })); return; }
    await save([{ ty: 'bag.finished', sub: [scanned], d: { cause } }], t('load.losses.saved', { n: 1, cause: choiceName('cause', cause) }));
  };
  useScan(cause ? writeOff : null, 'B');
  if (live.length === 0) return null;
  return (
    <details class="card">
      <summary>{t('load.losses')}</summary>
      <div class="stack">
        <ChoiceGrid label={t('load.losses.which')} value={cause} onPick={setCause} options={CAUSES.map((value) => ({ value, name: choiceName('cause', value), about: choiceName('cause', `${value}.looks`) }))} />
        {cause && (
          <>
            {live.map((b) => <Count key={`${code}${b.code}`} batch={b} cause={cause} />)}
            <p><b>{t('load.losses.scan')}</b></p>
            <ScanPane />
            <CodeEntry letter="B" onCode={(c) => void writeOff(c)} />
          </>
        )}
      </div>
    </details>
  );
}

function Count({ batch, cause }: { batch: BatchIn; cause: string }) {
  const [text, setText] = useState('');
  const [wrong, setWrong] = useState('');
  // Those without a label of their own are counted; a labelled one is scanned, so that it is the right one.
  const groups = batch.parts.filter((part) => !part.code.startsWith('B')).sort((a, b) => b.n - a.n);
  const most = groups.reduce((sum, part) => sum + part.n, 0);
  if (most === 0) return null;
  const put = async (): Promise<void> => {
    const n = /^\d{1,6}$/.test(text.trim()) ? Number(text) : 0;
    if (n < 1 || n > most) { setWrong(t('load.losses.count_wrong', { n: most })); return; }
    setWrong('');
    const drafts: { ty: string; sub: string[]; d: Record<string, unknown> }[] = [];
    const ended: string[] = [];
    let left = n;
    for (const part of groups) {
      const some = Math.min(left, part.n);
      if (!some) break;
      if (some < part.n) { ended.push(`g-@${drafts.length}`); drafts.push({ ty: 'group.split', sub: [part.code], d: { n: some } }); }
      else ended.push(part.code);
      left -= some;
    }
    drafts.push({ ty: 'bag.finished', sub: ended, d: { cause } });
    if (await save(drafts, t('load.losses.saved', { n, cause: choiceName('cause', cause) }))) setText('');
  };
  return (
    <form onSubmit={(e) => { e.preventDefault(); void put(); }}>
      <label class="field"><span class="field-label" dir="auto">{t('load.losses.count', { name: batch.name, n: most })}</span>
        <span class="input-unit"><input class="input" inputMode="numeric" autoComplete="off" value={text} onInput={(e) => setText(e.currentTarget.value)} /><button class="btn">{t('load.losses.save')}</button></span>
        {wrong && <span class="wrong" role="alert">{wrong}</span>}
      </label>
    </form>
  );
}
