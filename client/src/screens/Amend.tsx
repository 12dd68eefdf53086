/** A record corrected: the same form with its figures in it; only what was changed is written, as a new record. */
import type { Happened, HistoryLine } from '../app-types';
import { kindName, t } from '../i18n';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { KINDS, type Field } from '../ui/catalogue';
import { Form, type Filled } from '../ui/Form';
import { useAnswer } from '../ui/load';
import { anyName } from '../ui/names';
import { ErrorNote } from '../ui/Notes';
import { back } from '../ui/route';
import { say } from '../ui/toast';
import { toTyped } from '../ui/validate';
import { Head, Loading } from './parts';

const SEARCHED = 5_000;

/** Kinds that stand for themselves: a correction of a correction is written afresh. */
export const FIXED = ['record.voided', 'record.amended', 'record.admitted', 'question.answered', 'device.paired', 'device.revoked'];

/** Whether a record has figures that may be corrected; what it is found by (labels, batches) may not. */
export const canAmend = (r: HistoryLine): boolean =>
  !r.voided && !FIXED.includes(r.line.k) && (KINDS.get(r.line.k)?.fields ?? []).some(isOpen);

export const isOpen = (f: Field): boolean => !['was', 'id', 'of', 'codes', 'fields'].includes(f.type);

/** The fields that differ from what the record holds. */
export function changed(before: Record<string, unknown>, after: Record<string, unknown>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(after).filter(([name, value]) => JSON.stringify(value) !== JSON.stringify(before[name])));
}

export function Amend({ id }: { id: string }) {
  const found = useAnswer(async () => (await app().records(SEARCHED)).find((r) => r.line.id === id) ?? null, [id]);
  if (found === undefined) return <main class="screen" id="main"><Loading /></main>;
  const kind = found && KINDS.get(found.line.k);
  if (!found || !kind || !canAmend(found)) return <main class="screen" id="main"><Head title={t('amend.title')} /><ErrorNote what={t('amend.cannot')} todo={t('amend.cannot.todo')} /></main>;
  const { line } = found;
  const d = line.d ?? {};
  const start = Object.fromEntries(kind.fields.filter((f) => d[f.name] !== undefined)
    .map((f) => [f.name, f.type === 'int' ? toTyped(f, Number(d[f.name])) : d[f.name]]));
  const submit = async (filled: Filled): Promise<void> => {
    const { was: said, ...after } = filled.d;
    const was = (filled.on ?? said) as Happened | undefined;
    const fields = changed(d, after);
    if (!was && Object.keys(fields).length === 0) {
      say('ask', t('amend.nothing'));
      return;
    }
    const draft = { ty: 'record.amended', sub: line.s, d: { target: line.id, ...(Object.keys(fields).length ? { fields } : {}), ...(was ? { was } : {}) } };
    if (await save([draft], t('amend.saved', { what: kindName(line.k) }))) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={t('amend.title')} sub={`${kindName(line.k)} · ${line.s.slice(0, 3).map(anyName).join(', ')} · ${when(line.t, line.o === 'd')}`} />
      <p class="small quiet">{t('amend.words')}</p>
      <Form kind={kind} start={start} {...(kind.timed ? { since: { ms: line.t, p: line.o ?? 'm' } } : {})} hide={kind.fields.filter((f) => !isOpen(f)).map((f) => f.name)} submit={t('amend.save')} onSubmit={(f) => void submit(f)} />
    </main>
  );
}
