/** Any act of the catalogue on any code: what it is about, how many, its form. */
import { useState } from 'preact/hooks';
import { kindName, t } from '../i18n';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { KINDS, kind } from '../ui/catalogue';
import { Form, type Filled } from '../ui/Form';
import { HowMany } from '../ui/HowMany';
import { Care } from '../ui/Care';
import { AskNote, ErrorNote } from '../ui/Notes';
import { anyName } from '../ui/names';
import { CodeEntry } from '../ui/CodeEntry';
import { back } from '../ui/route';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { AskResult, gateOf } from './loadstate';
import { LeaveOut } from './LeaveOut';
import { Head, Loading } from './parts';
import { draftsFor, isGroup, targetWords, useTarget } from './target';

// What the grower most likely means, so that the usual case is one touch.
const START: Record<string, Record<string, unknown>> = {
  'bag.weighed': { when: 'cooled' },
  'bag.opened': { how: 'top_cut' },
  'load.ran': { result: 'passed' },
};

// Of a run told in one record; its page asks for the times and the vessel.
const NOT_TYPED = ['pot', 'begun', 'off', 'asked', 'altitude_m'];

export function Act({ ty, code }: { ty: string; code: string }) {
  const target = useTarget(code);
  const [picked, setSome] = useState<number | null | undefined>(undefined);
  const [also, setAlso] = useState<string[]>([]);
  const [out, setOut] = useState<string[]>([]);
  const [tag, setTag] = useState<string | null>(code.startsWith('H') ? code : null);
  const putIn = (c: string): void => {
    if (c.startsWith('H')) setTag(c);
    else if ('BGM'.includes(c.charAt(0))) setAlso((old) => (c === code || old.includes(c) ? old : [...old, c]));
    else say('bad', t('scan.wrong_type', { want: t('type.B'), got: t(`type.${c.charAt(0)}`) }));
  };
  useScan(ty === 'load.ran' ? putIn : null);
  if (!KINDS.get(ty)) return <main class="screen" id="main"><Head title={t('act.unknown')} /><ErrorNote what={t('act.unknown.what', { ty })} todo={t('act.unknown.todo')} /></main>;
  if (target === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (target === null) return <main class="screen" id="main"><Head title={kindName(ty)} /><ErrorNote what={t('bag.unknown')} todo={t('unknown.todo')} /></main>;
  const k = kind(ty);
  const load = ty === 'load.ran';
  const many = (target.type === 'batch' || target.type === 'place') && k.reach !== '';
  const gate = ty === 'bag.inoculated' ? gateOf(code) : null;
  const failed = gate?.failed ?? false;
  // A loss is rarely the whole group.
  const few = k.reach === 'seen';
  const some = picked === undefined ? (few ? 1 : null) : picked;
  const submit = async ({ d, on }: Filled): Promise<void> => {
    if (Number.isNaN(some)) return;
    const act = { ty, d, ...(on ? { on } : {}), ...(out.length ? { except: out } : {}) };
    // A load is its own thing: its tag comes first, then all that stood in it.
    const drafts = load
      ? [{ ...act, sub: [tag ?? app().newCode('H'), ...(code.startsWith('H') ? [] : [code]), ...also] }]
      : draftsFor(target, some, act);
    if (await save(drafts, t('act.saved', { what: kindName(ty), about: targetWords(target, some) }))) back();
  };
  return (
    <main class="screen" id="main">
      <Head title={kindName(ty)} sub={target.name} />
      <Care of={ty} open={ty === 'bag.soaked'} />
      {failed && <AskNote what={t('act.failed_load')}>{t('act.failed_load.todo')}</AskNote>}
      {!failed && gate?.ask && <AskResult code={gate.ask} go="load.ask.go" />}
      {isGroup(target) && ty !== 'group.corrected' && ty !== 'note.written' && <HowMany n={target.n} value={some} onChange={setSome} few={few} />}
      {target.type === 'place' && <p class="note note-care"><span>{t('act.place', { n: target.n })}</span></p>}
      {many && <LeaveOut target={target} codes={out} onChange={setOut} />}
      {load && <InLoad also={also} tag={tag} onCode={putIn} onTake={(c) => setAlso(also.filter((x) => x !== c))} />}
      <Form kind={k} start={START[ty] ?? {}} submit={t('form.save')} onSubmit={(f) => void submit(f)}
        hide={load ? NOT_TYPED : failed ? [] : ['override']} need={ty === 'bag.inoculated' ? ['spawn'] : []} />
    </main>
  );
}

interface InLoadProps {
  also: string[];
  tag: string | null;
  onCode: (code: string) => void;
  onTake: (code: string) => void;
}

/** What else stood in the steriliser: batches, groups or bags, by scan; and the load's own tag if it has one. */
function InLoad({ also, tag, onCode, onTake }: InLoadProps) {
  return (
    <details class="card">
      <summary>{t('load.also', { n: also.length })}</summary>
      <p class="small">{tag ? t('load.tag', { code: anyName(tag) }) : t('load.also.words')}</p>
      {also.length > 0 && <div class="chips">{also.map((c) => <button type="button" class="chip" key={c} aria-label={t('move.leave_out', { name: anyName(c) })} onClick={() => onTake(c)}><span dir="auto">{anyName(c)}</span> ×</button>)}</div>}
      <ScanPane />
      <CodeEntry onCode={onCode} />
    </details>
  );
}
