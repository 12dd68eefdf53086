/** Needs your answer: two records that disagree, both shown; records that are held, with the reason. */
import { useState } from 'preact/hooks';
import type { Held, Line, Question } from '../app-types';
import { has, kindName, t } from '../i18n';
import { when } from '../i18n/format';
import { app } from '../ui/app';
import { errorWords, save } from '../ui/act';
import { fieldId } from '../i18n';
import { dataWords } from '../ui/History';
import { anyName, personName } from '../ui/names';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import { to } from '../ui/route';
import { answersOf, draftsOf } from './answers';
import { canMend, isParked, layAside, voidOf } from './Mend';
import { FOREIGN, OldFarm } from './OldFarm';
import { PutBack } from './SafetyCard';
import { Head } from './parts';

/** Held records shown at once: a device gone wrong may bring thousands. */
const STEP = 30;
const MOST_SHOWN = 4_000;

export function Answers() {
  const a = app();
  const questions = a.questions.value;
  const held = a.held.value;
  const [shown, setShown] = useState(STEP);
  return (
    <main class="screen" id="main">
      <Head title={t('screen.answers')} sub={t('answers.words')} />
      {a.device.value?.role === 'owner' && <PutBack />}
      {questions.length + held.length === 0 && <div class="note note-ok"><Mark kind="ok" /><strong>{t('answers.none')}</strong><span>{t('answers.none.todo')}</span></div>}
      <OldFarm held={held.filter(({ why }) => why === FOREIGN)} />
      {questions.map((q) => <Asked key={q.id} q={q} />)}
      {held.length > 0 && <h2>{t('answers.held', { n: held.length })}</h2>}
      {held.slice(0, shown).map((h) => <HeldCard key={h.id} h={h} />)}
      {held.length > shown && <button type="button" class="btn btn-wide" onClick={() => setShown(shown + STEP)}>{t('mend.more', { n: held.length - shown })}</button>}
    </main>
  );
}

function Asked({ q }: { q: Question }) {
  const about = q.sub.filter((c) => !c.startsWith('M')).map(anyName).join(', ');
  const give = (i: number): void => {
    const answer = answersOf(q)[i];
    if (answer) void save(draftsOf(q, answer, (l) => app().newCode(l)), t('answers.saved'));
  };
  const first = q.sub[0];
  return (
    <section class="card">
      <h2><span>{t(has(`question.${q.rule}`) ? `question.${q.rule}` : 'question.other', { about })}</span></h2>
      <p class="small">{has(`question.${q.rule}.why`) ? t(`question.${q.rule}.why`) : ''}</p>
      <div class="both">
        {q.lines.map((line, i) => <Side key={line.id} line={line} name={q.lines.length > 1 ? t(i === 0 ? 'answers.first' : 'answers.second') : ''} />)}
      </div>
      <div class="stack-close">
        {answersOf(q).map((x, i) => (
          <button type="button" key={x.word} class="btn btn-wide" onClick={() => give(i)}>{t(has(`answer.${q.rule}.${x.word}`) ? `answer.${q.rule}.${x.word}` : 'answer.leave')}</button>
        ))}
        {first && <a class="btn btn-bare" href={to('c', first)}>{t('answers.look')}</a>}
      </div>
    </section>
  );
}

function Side({ line, name }: { line: Line; name: string }) {
  return (
    <div class="note">
      <Mark kind="ask" />
      <strong dir="auto">{name ? `${name}: ` : ''}{kindName(line.k)}</strong>
      <span dir="auto">{dataWords(line)}</span>
      <span class="small quiet" dir="auto">{[when(line.t, line.o === 'd'), personName(line.by), deviceName(line.dev)].filter(Boolean).join(' · ')}</span>
    </div>
  );
}

const deviceName = (dev: string | undefined): string => String((dev && app().ref.value.devices[dev]?.['name']) || '');

/** Why a record is held, in words, with what can be done about it. */
export function heldWords(why: string, line: Line): { what: string; todo: string } {
  const [word = '', name] = why.split(':', 2);
  if (word === 'field') {
    const id = name && name !== '?' ? fieldId(line.k, name) : '';
    return { what: t('held.field', { field: id && has(id) ? t(id) : name ?? '?' }), todo: t('held.field.todo') };
  }
  const id = `held.${word}`;
  return has(id) ? { what: t(id), todo: t(`${id}.todo`) } : { what: t('held.other', { why }), todo: t('held.other.todo') };
}

// Admitting helps only where the record is sound and its writer was not trusted to write it.
const ADMIT = ['device', 'authority', FOREIGN];

function HeldCard({ h }: { h: Held }) {
  const { what, todo } = heldWords(h.why, h.line);
  const role = app().device.value?.role;
  const boss = role === 'owner' || role === 'manager';
  const parked = isParked(h);
  const about = h.line.s.slice(0, 5).map(anyName).join(', ');
  return (
    <section class="card" data-held={h.why}>
      <h2><span dir="auto">{h.line.k === '?' ? t('mend.untitled') : kindName(h.line.k)}{about ? ` · ${about}` : ''}</span></h2>
      <p><b>{what}</b> {todo}</p>
      <Side line={h.line} name="" />
      {boss && ADMIT.includes(h.why) && (
        <button type="button" class="btn btn-wide" onClick={() => void save([{ ty: 'record.admitted', sub: [...new Set(h.line.s)], d: { target: h.id } }], t('held.admitted'))}>{t('held.admit')}</button>
      )}
      {(boss || parked) && canMend(h) && <a class="btn btn-wide" href={to('mend', h.id)}>{t('mend.again')}</a>}
      {boss && !parked && <button type="button" class="btn btn-wide" onClick={() => void save(voidOf(h), t('held.voided'))}>{t('held.void')}</button>}
      {parked && <button type="button" class="btn btn-wide" onClick={() => void layAside(h)}>{t('mend.aside')}</button>}
      {(boss || parked) && <Came id={h.id} />}
      {!boss && !parked && <p class="small quiet">{t('held.ask_boss')}</p>}
    </section>
  );
}

/** The text as it came, for whoever must find out what it was to be. */
function Came({ id }: { id: string }) {
  const [text, setText] = useState('');
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const look = (open: boolean): void => {
    if (!open || text) return;
    setWrong(null);
    app().desk().then((desk) => desk.came(id)).then((came) => setText(came || t('mend.came.empty')), (e: unknown) => setWrong(errorWords(e)));
  };
  return (
    <details onToggle={(e) => look(e.currentTarget.open)}>
      <summary>{t('mend.came')}</summary>
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {text && <pre class="came small" dir="auto" tabIndex={0}>{text.slice(0, MOST_SHOWN)}</pre>}
    </details>
  );
}
