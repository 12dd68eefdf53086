/** What was printed, newest first; any of it is printed again, and means the same bags. */
import { useState } from 'preact/hooks';
import type { Label } from '../app-types';
import { choiceName, t } from '../i18n';
import { when } from '../i18n/format';
import { printsOf, type Print } from '../labels/prints';
import { labelsFor } from '../labels/tags';
import { app } from '../ui/app';
import { useAnswer } from '../ui/load';
import { anyName, personName } from '../ui/names';
import { PrintLabels, stockName } from '../ui/PrintLabels';
import { Head, Loading } from './parts';

/** How far back prints are looked for. */
const RECORDS = 5_000;
const SHOWN = 50;

export function LabelPrints() {
  const prints = useAnswer(async () => printsOf(await app().records(RECORDS)), []);
  const [again, setAgain] = useState<Label[] | null>(null);
  const [many, setMany] = useState(SHOWN);
  const pick = (print: Print): void => void labelsFor(print.codes).then(setAgain);
  if (again) {
    return (
      <main class="screen" id="main">
        <Head title={t('print.again')} sub={t('label_set.prints.same')} />
        <PrintLabels labels={again} name={t('print.again')} job="again" />
        <button type="button" class="btn" onClick={() => setAgain(null)}>{t('label_set.prints')}</button>
      </main>
    );
  }
  const [last] = prints ?? [];
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.prints')} sub={t('label_set.prints.about')} />
      {prints === undefined && <Loading />}
      {prints?.length === 0 && <p class="quiet">{t('label_set.prints.none')}</p>}
      {last && <button type="button" class="btn btn-first" onClick={() => pick(last)}>{t('label_set.prints.last', { n: last.n })}</button>}
      {last && <ul class="list">{(prints ?? []).slice(0, many).map((print) => (
        <li key={print.id}><button type="button" class="item" aria-label={t('label_set.prints.one', { n: print.n, when: when(print.at) })} onClick={() => pick(print)}>
          <span><b dir="auto">{t('name.labels', { n: print.n })} · {choiceName('job', print.job)}</b>
            <span class="sub" dir="auto">{print.codes.slice(0, 2).map(anyName).join(', ')}{print.codes.length > 2 ? ' …' : ''}</span>
            <span class="sub" dir="auto">{[when(print.at), personName(print.by), print.stock && stockName(print.stock).name].filter(Boolean).join(' · ')}</span></span>
          <span />
        </button></li>
      ))}</ul>}
      {(prints?.length ?? 0) > many && <button type="button" class="btn" onClick={() => setMany(many + SHOWN)}>{t('records.more')}</button>}
    </main>
  );
}
