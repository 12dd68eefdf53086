/**
 * A load's temperatures from a logger's file: what was guessed is shown, every fault is named, and only then is it
 * kept. The file itself lies on the farm's computer and in its backups, so it can be scored again another way.
 */
import { useRef, useState } from 'preact/hooks';
import { AppError } from '../app-types';
import { has, t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { Unfit, type Finding } from '../trade/findings';
import { ATMOSPHERIC_C } from '../trade/lethality';
import { loggedData } from '../trade/logged';
import { app } from '../ui/app';
import { errorWords, save, saving } from '../ui/act';
import { Care } from '../ui/Care';
import { ErrorNote } from '../ui/Notes';
import { goInstead, to } from '../ui/route';
import { LoadLayout } from './LoadLayout';
import { ScoreCard, TermsCard, usualTerms, type Terms } from './LoadScore';
import { clockOf, Faults } from './logwords';
import { MOST, sendLog, type Answer, type Layout, type Seen } from './logsend';
import { faultWords } from './mixwords';
import { Head } from './parts';

interface Asked { layout: Layout | null; terms: Terms; accept: number[]; fill: boolean }
interface Fault { what: string; todo: string }

export function LoadLog({ code }: { code: string }) {
  const way = wayOf(code);
  const [file, setFile] = useState<{ name: string; sha: string } | null>(null);
  const [asked, setAsked] = useState<Asked>({ layout: null, terms: usualTerms(way), accept: [], fill: false });
  const [seen, setSeen] = useState<Seen | null>(null);
  const [answer, setAnswer] = useState<Answer | null>(null);
  const [wrong, setWrong] = useState<Fault | null>(null);
  const [share, setShare] = useState<number | null>(null);
  const turn = useRef(0);

  const ask = async (sha: string, next: Asked): Promise<Answer | null> => {
    const mine = (turn.current += 1);
    setAsked(next);
    setWrong(null);
    try {
      const got = await app().ask('/api/loads/log/score', { sha256: sha, layout: next.layout, ...next.terms, accept: next.accept, fill: next.fill }) as unknown as Answer;
      if (mine !== turn.current) return null;
      setAnswer(got);
      setSeen(got);
      return got;
    } catch (error) {
      if (mine !== turn.current) return null;
      setAnswer(null);
      setWrong(logFault(error));
      const details = error instanceof AppError ? error.details : {};
      if (details['layout']) setSeen(details as unknown as Seen);
      return null;
    }
  };
  const choose = async (input: HTMLInputElement): Promise<void> => {
    const chosen = input.files?.[0];
    input.value = ''; // the same file may be chosen again
    if (!chosen || share !== null) return;
    setFile(null);
    setSeen(null);
    setAnswer(null);
    setWrong(null);
    if (!chosen.size) return setWrong(unfit('empty'));
    if (chosen.size > MOST) return setWrong(unfit('too_big'));
    setShare(0);
    try {
      const sha = await sendLog(chosen, setShare);
      setFile({ name: chosen.name, sha });
      const fresh = { ...asked, layout: null, accept: [], fill: false };
      const got = await ask(sha, fresh);
      // Nobody said how this load was heated, and it was never hotter than steam without pressure is.
      const steamed = got?.score.highest != null && got.score.highest < ATMOSPHERIC_C * 100;
      if (steamed && way === undefined && fresh.terms.limit === usualTerms(way).limit) await ask(sha, { ...fresh, terms: usualTerms('atmospheric') });
    } catch (error) {
      setWrong(logFault(error));
    } finally {
      setShare(null);
    }
  };
  const again = (next: Partial<Asked>): void => { if (file) void ask(file.sha, { ...asked, ...next }); };
  const clock = answer ? clockOf(answer.layout.kind, answer.layout.unit_ms, answer.score.from_ms) : 'wall';
  const data = answer && file ? loggedData(answer.score, { file: file.name, sha256: file.sha }) : null;
  const keep = async (): Promise<void> => {
    if (!data || saving.value) return;
    if (await save([{ ty: 'load.logged', sub: [code], d: data }], t('load_log.saved'))) goInstead('load', code);
  };
  const found = answer?.score.findings ?? [];
  // What a person drew a line over stays in sight, with the way back; one gap needs no sum of gaps.
  const drawn = (f: Finding): boolean => f.code === 'gap' || f.code === 'reading_filled';
  const faults = found.filter((f) => (f.level !== 'note' || drawn(f)) && !(f.code === 'gaps' && f.values['gaps'] === 1));
  const notes = found.filter((f) => f.level === 'note' && !drawn(f));
  return (
    <main class="screen" id="main">
      <Head title={t('load_log.title')} sub={`${t('type.H')} ${spacedCode(code)}`} />
      {!answer && <p>{t('load_log.words')}</p>}
      <label class={`btn btn-wide file${answer ? '' : ' btn-first'}`}>{t(file ? 'load_log.another' : 'load_log.choose')}
        <input type="file" accept=".csv,.txt,.tsv,.log,text/*" disabled={share !== null} onChange={(e) => void choose(e.currentTarget)} /></label>
      {share !== null && <p role="status">{t('load_log.sending', { p: Math.round(share * 100) })}</p>}
      {file && <p class="small quiet" dir="auto">{t('load_log.kept', { name: file.name })}</p>}
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!answer && !file && <a class="btn btn-wide" href={to('load-table', code)}>{t('load_log.by_hand')}</a>}
      <div class="sides">
        <div>
          {faults.length > 0 && (
            <section class="stack-close" aria-label={t('load_log.faults')} data-faults>
              <h2>{t('load_log.faults')}</h2>
              <p class="small">{t('load_log.faults.why')}</p>
              <Faults of={faults} clock={clock}>{(f) => bridge(f, asked.accept, asked.fill, again)}</Faults>
            </section>
          )}
          {seen && <LoadLayout key={JSON.stringify(seen.layout)} seen={seen} open={!answer} onChange={(layout) => again({ layout, accept: [] })} />}
          {notes.length > 0 && <details class="card"><summary>{t('load_log.guessed', { n: notes.length })}</summary>
            <Faults of={notes} clock={clock} /></details>}
          {answer && <TermsCard terms={asked.terms} onChange={(terms) => again({ terms })} />}
        </div>
        <div>
          {answer && <ScoreCard score={answer.score} clock={clock} />}
          {answer && <button type="button" class="btn btn-first" disabled={!data} onClick={() => void keep()}>{t('load_log.keep')}</button>}
          <Care of="load.ran" />
        </div>
      </div>
    </main>
  );
}

/** Whether the load was heated under pressure or in steam without it, as its record or its vessel says. */
export function wayOf(code: string): unknown {
  const { loads, vessels } = app().ref.value;
  const row = loads[code];
  return row?.['way'] ?? vessels[String(row?.['pot'] ?? '')]?.['way'];
}

/** What a person may say about a fault: to draw a line over a gap, or over missing readings. */
function bridge(f: Finding, accept: number[], fill: boolean, again: (next: Partial<Asked>) => void) {
  const gap = Number(f.values['gap']);
  if (f.code === 'gap') {
    const taken = accept.includes(gap);
    return <button type="button" class="btn" onClick={() => again({ accept: taken ? accept.filter((g) => g !== gap) : [...accept, gap] })}>{t(taken ? 'load_log.unbridge' : 'load_log.bridge')}</button>;
  }
  if (f.code === 'reading_missing' || f.code === 'reading_filled') {
    return f.code === 'reading_missing' && fill ? null : <button type="button" class="btn" onClick={() => again({ fill: !fill })}>{t(fill ? 'load_log.unbridge' : 'load_log.bridge')}</button>;
  }
  return null;
}

function unfit(code: string, values: Record<string, number | string> = {}): Fault {
  return { what: faultWords(new Unfit(code, values)), todo: has(`unfit.${code}.todo`) ? t(`unfit.${code}.todo`) : t('load_log.wrong.todo') };
}

/** Why a file is no log, by the server's word for it; other errors as everywhere. */
function logFault(error: unknown): Fault {
  const code = error instanceof AppError && error.code === 'bad_log' ? error.details['unfit'] : null;
  if (typeof code === 'string' && has(`unfit.${code}`)) return unfit(code, (error as AppError).details['values'] as Record<string, number | string>);
  if (error instanceof AppError && error.code === 'logs_full') return { what: t('load_log.full'), todo: t('load_log.full.todo') };
  if (error instanceof AppError && error.code === 'offline') return { what: t('load_log.offline'), todo: t('load_log.offline.todo') };
  return errorWords(error);
}
