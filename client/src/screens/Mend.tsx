/**
 * A record that cannot be counted, written again: the same form with what of it can be read already in it. The
 * new record and the void of the old one are one act, so undo takes back both; what came stays as it is.
 */
import { useState } from 'preact/hooks';
import type { Draft, Happened, Held } from '../app-types';
import { fits } from '../check';
import { typeOf } from '../ids';
import { kindName, t } from '../i18n';
import { app } from '../ui/app';
import { errorWords, save } from '../ui/act';
import { KINDS, type Kind } from '../ui/catalogue';
import { CodeEntry } from '../ui/CodeEntry';
import { Form, type Filled } from '../ui/Form';
import { anyName } from '../ui/names';
import { ErrorNote } from '../ui/Notes';
import { back } from '../ui/route';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import type { Values } from '../ui/validate';
import { toTyped } from '../ui/validate';
import { FIXED, isOpen } from './Amend';
import { Head } from './parts';
import { findTarget } from './target';

/** Records that only this device has: the farm's computer refused them. */
const PARKED = ['big', 'unauthentic'];

export const isParked = (h: Held): boolean => PARKED.includes(h.why);

/** Whether a held record says something that can be said again; a correction is made anew at its record. */
export const canMend = (h: Held): boolean => !FIXED.includes(h.line.k);

/** The void of a held record; nothing where the log has none to void. */
export const voidOf = (h: Held): Draft[] =>
  isParked(h) ? [] : [{ ty: 'record.voided', sub: [...new Set(h.line.s)].slice(0, 1_000), d: { target: h.id } }];

/** Takes a parked record off the list; it stays on this device and goes into its file. */
export async function layAside(h: Held): Promise<void> {
  try {
    await (await app().desk()).layAside(h.id);
  } catch (error) {
    const { what, todo } = errorWords(error);
    say('bad', `${what} ${todo}`.trim());
  }
}

/** What of a held record fits its kind: values as they are stored. */
export function readable(kind: Kind, d: Record<string, unknown>): Record<string, unknown> {
  return Object.fromEntries(kind.fields.filter((f) => Object.hasOwn(d, f.name) && fits(f, d[f.name])).map((f) => [f.name, d[f.name]]));
}

export function Mend({ id }: { id: string }) {
  const held = app().held.value.find((h) => h.id === id);
  // What was being mended stays on screen while its own act is being written.
  const [first] = useState(held);
  if (!first || !canMend(first)) return <main class="screen" id="main"><Head title={t('mend.title')} /><ErrorNote what={t('mend.gone')} todo={t('mend.gone.todo')} /></main>;
  return <Again h={first} />;
}

function Again({ h }: { h: Held }) {
  const { line } = h;
  const [name, setName] = useState(KINDS.has(line.k) ? line.k : '');
  const [about, setAbout] = useState([...new Set(line.s)]);
  const add = (code: string): void => setAbout((old) => (old.includes(code) ? old : [...old, code]));
  useScan(add);
  const since: Happened = { ms: line.t, p: line.o ?? 'm' };
  const kind = KINDS.get(name);
  const sub = kind ? about.filter((code) => kind.sub.includes(typeOf(code))) : about;
  const kept = kind ? readable(kind, line.d ?? {}) : {};
  const start: Values = Object.fromEntries((kind?.fields ?? []).filter((f) => f.name in kept)
    .map((f) => [f.name, f.type === 'int' ? toTyped(f, Number(kept[f.name])) : kept[f.name]]));
  const submit = async (k: Kind, { d, on }: Filled): Promise<void> => {
    const unseen = Object.fromEntries(k.fields.filter((f) => !isOpen(f) && f.name in kept && !(f.name in d)).map((f) => [f.name, kept[f.name]]));
    const of = k.fields.some((f) => f.type === 'of') && !('of' in unseen) && sub[0] ? { of: (await findTarget(sub[0]))?.of } : {};
    // A thing of words, as a strain, that was never named well gets a name of its own.
    const word = k.sub.find((letter) => letter.length > 1);
    const whom = sub.length || !word || !k.subs[0] ? sub : [word];
    const again: Draft = { ty: k.name, sub: whom, d: { ...unseen, ...of, ...d }, ...(k.timed ? { on: on ?? since } : {}) };
    if (!(await save([...voidOf(h), again], t('mend.saved', { what: kindName(k.name) })))) return;
    if (isParked(h)) await layAside(h);
    back();
  };
  return (
    <main class="screen" id="main">
      <Head title={t('mend.title')} sub={t('mend.words')} />
      {!KINDS.has(line.k) && (
        <label class="field"><span class="field-label">{t('mend.kind')}</span>
          <select class="input" value={name} onChange={(e) => setName(e.currentTarget.value)}>
            <option value="">{t('mend.kind.pick')}</option>
            {[...KINDS.keys()].filter((k) => !FIXED.includes(k)).map((k) => ({ k, said: kindName(k) }))
              .sort((a, b) => a.said.localeCompare(b.said)).map(({ k, said }) => <option key={k} value={k}>{said}</option>)}
          </select>
        </label>
      )}
      {kind && (
        <>
          <h2>{kindName(kind.name)}</h2>
          {kind.subs[1] > 0 && (
            <section class="stack-close">
              <span class="field-label">{t('mend.about')}</span>
              {sub.length > 0
                ? <div class="chips">{sub.map((c) => <button type="button" class="chip" key={c} aria-label={t('mend.leave_out', { name: anyName(c) })} onClick={() => setAbout(about.filter((x) => x !== c))}><span dir="auto">{anyName(c)}</span> ×</button>)}</div>
                : <p class="small">{t('mend.about.none')}</p>}
              <CodeEntry onCode={add} />
            </section>
          )}
          <Form key={kind.name} kind={kind} start={start} {...(kind.timed ? { since } : {})} hide={kind.fields.filter((f) => !isOpen(f)).map((f) => f.name)}
            submit={t('mend.save')} onSubmit={(f) => void submit(kind, f)} />
        </>
      )}
    </main>
  );
}
