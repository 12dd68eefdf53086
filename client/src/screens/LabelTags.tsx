/** Tags of everything that is no bag: rooms to shelves, spawn lots, loads, batches, people; and new crates. */
import { useState } from 'preact/hooks';
import type { Label } from '../app-types';
import { num, t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { tagOf } from '../labels/tags';
import { app } from '../ui/app';
import { ChoiceGrid } from '../ui/Choice';
import { anyName, placePath } from '../ui/names';
import { PrintLabels } from '../ui/PrintLabels';
import { newCodes } from './labels';
import { Head } from './parts';

const LETTERS = ['P', 'S', 'H', 'M', 'W', 'K'];
const MOST_CRATES = 500;

function codesOf(letter: string): string[] {
  const { places, spawn, loads, people } = app().ref.value;
  const found = letter === 'P' ? Object.keys(places) : letter === 'S' ? Object.keys(spawn) : letter === 'H' ? Object.keys(loads)
    : letter === 'W' ? Object.keys(people) : [...new Set(app().find({}).map((row) => row.batch))].filter((code) => code.startsWith('M'));
  const name = (code: string): string => (letter === 'P' ? placePath(code) : anyName(code));
  return found.filter((code) => code.startsWith(letter)).sort((a, b) => name(a).localeCompare(name(b), undefined, { numeric: true }));
}

export function LabelTags() {
  const [letter, setLetter] = useState('P');
  const [out, setOut] = useState<ReadonlySet<string>>(new Set());
  const [text, setText] = useState('');
  const [crates, setCrates] = useState<Label[]>([]);
  void app().changed.value;
  const codes = letter === 'K' ? [] : codesOf(letter);
  const labels = letter === 'K' ? crates : codes.filter((code) => !out.has(code)).map(tagOf);
  const n = /^\d+$/.test(text.trim()) ? Number(text) : NaN;
  const right = n >= 1 && n <= MOST_CRATES;
  const flip = (code: string): void => setOut((old) => {
    const next = new Set(old);
    if (!next.delete(code)) next.add(code);
    return next;
  });
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.tags')} sub={t('label_set.tags.about')} />
      <ChoiceGrid label={t('label_set.tags.what')} value={letter} onPick={(one) => { setLetter(one); setOut(new Set()); }} options={LETTERS.map((one) => ({ value: one, name: t(`type.${one}`) }))} />
      <div class="sides">
        <section class="stack">
          {letter === 'K' && (
            <form class="card" onSubmit={(e) => { e.preventDefault(); if (right) setCrates(newCodes('K', n).map(tagOf)); }}>
              <p>{t('advice.crate_tag_differs')}</p>
              <label class="field"><span class="field-label">{t('label_set.tags.crates', { max: num(MOST_CRATES) })}</span>
                <input class="input" inputMode="numeric" value={text} aria-invalid={text !== '' && !right} onInput={(e) => setText(e.currentTarget.value)} /></label>
              {text !== '' && !right && <p class="wrong" role="alert">{t('label.how_many.wrong', { max: num(MOST_CRATES) })}</p>}
              <button class="btn btn-first">{t('label.make')}</button>
            </form>
          )}
          {letter !== 'K' && codes.length === 0 && <p class="quiet">{t('label_set.tags.none')}</p>}
          {codes.length > 1 && (
            <div class="row">
              <button type="button" class="btn grow" onClick={() => setOut(new Set())}>{t('label_set.tags.all')}</button>
              <button type="button" class="btn grow" onClick={() => setOut(new Set(codes))}>{t('label_set.tags.no')}</button>
            </div>
          )}
          <div class="choices choices-one">{codes.map((code) => (
            <button type="button" class="choice" key={code} aria-pressed={!out.has(code)} onClick={() => flip(code)}>
              <span dir="auto">{letter === 'P' ? placePath(code) : anyName(code)}</span><small class="code">{spacedCode(code)}</small>
            </button>
          ))}</div>
        </section>
        {labels.length > 0 && <PrintLabels key={letter} labels={labels} name={t(`type.${letter}`)} />}
      </div>
    </main>
  );
}
