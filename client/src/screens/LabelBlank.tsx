/** Blank labels printed ahead: new codes that are nobody's until a phone sticks them on a bag. */
import { useState } from 'preact/hooks';
import type { Label } from '../app-types';
import { num, t } from '../i18n';
import { ChoiceGrid } from '../ui/Choice';
import { PrintLabels } from '../ui/PrintLabels';
import { to } from '../ui/route';
import { tagOf } from '../labels/tags';
import { newCodes } from './labels';
import { Head } from './parts';

/** In one go: what the farm's computer draws at once. */
const MOST = 2_000;

export function LabelBlank() {
  const [letter, setLetter] = useState('B');
  const [text, setText] = useState('');
  const [tried, setTried] = useState(false);
  const [made, setMade] = useState<Label[] | null>(null);
  const n = /^\d+$/.test(text.trim()) ? Number(text) : NaN;
  const right = n >= 1 && n <= MOST;
  const make = (): void => {
    setTried(true);
    if (right) setMade(newCodes(letter, n).map(tagOf));
  };
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.blank')} sub={t('label_set.blank.about')} />
      {made
        ? (
          <>
            <PrintLabels labels={made} name={t('label_set.blank')} job="blank" />
            <button type="button" class="btn" onClick={() => setMade(null)}>{t('label_set.blank.more')}</button>
          </>
        )
        : (
          <section class="card">
            <ChoiceGrid label={t('label_set.blank.for')} value={letter} onPick={setLetter}
              options={['B', 'G'].map((one) => ({ value: one, name: t(`type.${one}`), about: t(`label_set.blank.${one}`) }))} />
            <label class="field"><span class="field-label">{t('label_set.blank.n', { max: num(MOST) })}</span>
              <input class="input" inputMode="numeric" value={text} aria-invalid={tried && !right} onInput={(e) => setText(e.currentTarget.value)} /></label>
            {tried && !right && <p class="wrong" role="alert">{t('label.how_many.wrong', { max: num(MOST) })}</p>}
            <button type="button" class="btn btn-first" onClick={make}>{t('label.make')}</button>
          </section>
        )}
      <section class="card">
        <h2>{t('label_set.stick')}</h2>
        <p>{t('label_set.stick.words')}</p>
        <a class="btn" href={to('round', 'adopt')}>{t('label_set.stick.adopt')}</a>
        <a class="btn" href={to('round', 'inoculate')}>{t('label_set.stick.inoculate')}</a>
      </section>
    </main>
  );
}
