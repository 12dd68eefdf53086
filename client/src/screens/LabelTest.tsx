/** The farm's own test of its label stock: print, sterilise, wipe, soak, scan; what came through is kept. */
import { choiceName, fieldId, t } from '../i18n';
import { day } from '../i18n/format';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { kind } from '../ui/catalogue';
import { Care } from '../ui/Care';
import { Form } from '../ui/Form';
import { useAnswer } from '../ui/load';
import { farmStock } from '../labels/printer';
import { back } from '../ui/route';
import { Head } from './parts';

const TY = 'label.tested';
const STEPS = ['print', 'sterilise', 'wipe_wet', 'wipe_alcohol', 'soak', 'scan'];

export function LabelTest() {
  const tests = useAnswer(async () => (await app().records(5_000)).filter(({ line, voided }) => line.k === TY && !voided), []);
  const own = app().ref.value.settings;
  const start = { stock: farmStock(), ...(own['method'] ? { method: own['method'] } : {}), ...(own['material'] ? { material: own['material'] } : {}) };
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.test')} sub={t('label_set.test.about')} />
      <Care of="load.ran" />
      <ol class="card label-steps">{STEPS.map((step) => <li key={step}>{t(`advice.test_${step}`)}</li>)}</ol>
      <Form kind={kind(TY)} start={start} submit={t('form.save')} onSubmit={({ d, on }) => void save([{ ty: TY, sub: [], d, ...(on ? { on } : {}) }], t('label_set.test.saved')).then((lines) => lines && back())} />
      {(tests?.length ?? 0) > 0 && (
        <section class="stack-close">
          <h2>{t('label_set.test.before')}</h2>
          <ul class="list">{tests?.map(({ line }) => {
            const missed = STEPS.filter((step) => line.d?.[step] !== true);
            return (
              <li key={line.id}><div class="item-still"><span>
                <b>{choiceName('method', String(line.d?.['method']))}, {choiceName('material', String(line.d?.['material']))}</b>
                <span class="sub">{day(line.t)} · {missed.length === 0 ? t('label_set.test.passed') : t('label_set.test.failed', { steps: missed.map((step) => t(fieldId(TY, step))).join(', ') })}</span>
              </span><span /></div></li>
            );
          })}</ul>
        </section>
      )}
    </main>
  );
}
