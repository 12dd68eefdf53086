/** A load's state as shape and word wherever it is shown, and the question that is asked once. */
import { t } from '../i18n';
import { notKnown, unrecorded } from '../round/unrecorded';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { Mark } from '../ui/Mark';
import { to } from '../ui/route';
import { isSteamed, isUnrecorded, loadName, markOf, stateOf, type LoadState } from './loads';

/** Shape and word, never colour alone; steamed loads are not called sterile. */
export function StateTag({ state, steamed = false }: { state: LoadState; steamed?: boolean }) {
  return <span class={`tag${isUnrecorded(state) ? ' tag-ask' : ''}`} data-state={state}><Mark kind={markOf(state)} size={20} /> {t(steamed && state === 'passed' ? 'load.state.steamed' : `load.state.${state}`)}</span>;
}

/** One load within a line of text. */
export function LoadLink({ code }: { code: string }) {
  const row = app().ref.value.loads[code];
  return <><a href={to('load', code)} dir="auto">{loadName(code)}</a> {row && <StateTag state={stateOf(row)} steamed={isSteamed(row)} />}</>;
}

/** The loads that some bags stood in, with their state. */
export function LoadLines({ codes }: { codes: readonly string[] }) {
  const { loads } = app().ref.value;
  return (
    <ul class="list">{codes.map((code) => {
      const row = loads[code];
      return <li key={code}><a href={to('load', code)}><b dir="auto">{loadName(code)}</b><span />{row && <span class="sub"><StateTag state={stateOf(row)} steamed={isSteamed(row)} /></span>}</a></li>;
    })}</ul>
  );
}

/** Asked once: how a load went. The answer is a record of the load, so no other phone asks again. */
export function AskResult({ code, onDone, go }: { code: string; onDone?: (result: string) => void; go?: string }) {
  const tell = async (result: 'passed' | 'failed' | 'unsure'): Promise<void> => {
    const draft = result === 'unsure' ? notKnown(code) : { ty: 'load.ran', sub: [code], d: { result } };
    if (await save([draft], t('load.told', { name: loadName(code), result: t(`load.state.${result}`) }))) onDone?.(result);
  };
  return (
    <div class="note note-ask" role="alert" data-ask="load">
      <Mark kind="ask" />
      <strong dir="auto">{t('load.ask', { name: loadName(code) })}</strong>
      <div class="stack-close">
        <button type="button" class="btn" onClick={() => void tell('passed')}>{t('load.ask.passed')}</button>
        <button type="button" class="btn" onClick={() => void tell('failed')}>{t('load.ask.failed')}</button>
        <button type="button" class="btn" onClick={() => void tell('unsure')}>{t(go ?? 'load.ask.unsure')}</button>
      </div>
    </div>
  );
}

/** What stands in the way of inoculating: a load that failed, or one whose result nobody told and nobody was asked about. */
export function gateOf(code: string): { failed: boolean; ask: string | null } {
  const { loads } = app().ref.value;
  const parts = app().briefs(code).filter((part) => !part.ended && part.n > 0);
  const open = parts.find((part) => part.load && unrecorded({ gate: part.gate, asked: loads[part.load]?.['asked'] === true }));
  return { failed: parts.some((part) => part.gate === 'failed'), ask: open?.load ?? null };
}
