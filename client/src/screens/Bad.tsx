/** Contaminated, in three touches: which sign, where on the bag, kept apart or thrown out. */
import { useState } from 'preact/hooks';
import type { Happened } from '../app-types';
import { choiceName, has, t } from '../i18n';
import { choicesOf } from '../ui/catalogue';
import { ChoiceGrid } from '../ui/Choice';
import { HappenedEarlier } from '../ui/Happened';
import { HowMany } from '../ui/HowMany';
import { save } from '../ui/act';
import { Care } from '../ui/Care';
import { ErrorNote } from '../ui/Notes';
import { SignMark, SpotMark } from '../ui/SignMark';
import { back } from '../ui/route';
import { Head, Loading } from './parts';
import { draftsFor, isGroup, targetWords, useTarget } from './target';

const TY = 'bag.contaminated';

export function Bad({ code }: { code: string }) {
  const target = useTarget(code);
  const [sign, setSign] = useState<string | null>(null);
  const [where, setWhere] = useState<string | null>(null);
  // One bag of a group is the rule; a whole group must be said.
  const [some, setSome] = useState<number | null>(1);
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  if (target === undefined) return <main class="screen" id="main"><Loading /></main>;
  if (target === null) return <main class="screen" id="main"><Head title={t('kind.bag_contaminated.title')} /><ErrorNote what={t('bag.unknown')} todo={t('unknown.todo')} /></main>;
  const finish = async (kept: string): Promise<void> => {
    if (!sign || !where || at === 'future' || Number.isNaN(some)) return;
    const drafts = draftsFor(target, some, { ty: TY, d: { sign, where, kept }, ...(at ? { on: at } : {}) });
    if (await save(drafts, t('bad.saved', { sign: choiceName('sign', sign), about: targetWords(target, some) }))) back();
  };
  const step = sign === null ? 1 : where === null ? 2 : 3;
  return (
    <main class="screen" id="main">
      <Head title={t('kind.bag_contaminated.title')} sub={target.name} />
      <p class="small quiet" aria-live="polite">{t('bad.step', { step })}
        {sign && <> · <button type="button" class="chip" onClick={() => { setSign(null); setWhere(null); }}>{choiceName('sign', sign)} ×</button></>}
        {where && <> <button type="button" class="chip" onClick={() => setWhere(null)}>{choiceName('where', where)} ×</button></>}
      </p>
      {isGroup(target) && <HowMany n={target.n} value={some} onChange={setSome} few />}
      {step === 1 && (
        <ChoiceGrid label={t('bad.sign')} looks value={sign} onPick={setSign} options={choicesOf(TY, 'sign').map((c) => ({
          value: c, name: choiceName('sign', c), picture: <SignMark sign={c} />, about: has(`choice.sign.${c}.looks`) ? t(`choice.sign.${c}.looks`) : undefined,
        }))} />
      )}
      {step === 2 && (
        <ChoiceGrid label={t('bad.where')} value={where} onPick={setWhere} options={choicesOf(TY, 'where').map((c) => ({
          value: c, name: choiceName('where', c), picture: <SpotMark spot={c} />,
        }))} />
      )}
      {step === 3 && (
        <ChoiceGrid label={t('bad.kept')} single value={null} onPick={(v) => void finish(v)} options={choicesOf(TY, 'kept').map((c) => ({
          value: c, name: choiceName('kept', c), about: t(`choice.kept.${c}.looks`),
        }))} />
      )}
      <Care of={TY} />
      <HappenedEarlier onChange={setAt} />
    </main>
  );
}
