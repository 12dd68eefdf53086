/** The farm's label paper: what it is printed with and on, what that lives through, which sheet, where the printer is off. */
import { useEffect, useState } from 'preact/hooks';
import { choiceName, LANGUAGES, num, t } from '../i18n';
import { advice, papers, type Advice, type Paper } from '../labels/ask';
import { Picture } from '../labels/picture';
import { farmStock, keepPrinter, measures, onPaper, printer, type Printer } from '../labels/printer';
import { sampleOf } from '../labels/sample';
import { onLabel } from '../labels/words';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { kind } from '../ui/catalogue';
import { ChoiceGrid } from '../ui/Choice';
import { Mark } from '../ui/Mark';
import { ErrorNote } from '../ui/Notes';
import { Pdf } from '../ui/Pdf';
import { labelTrouble, PrinterForm, stockName } from '../ui/PrintLabels';
import { to } from '../ui/route';
import { Head, Loading } from './parts';

const MARKS = { survives: 'ok', borderline: 'ask', fails: 'bad' } as const;
/** In the order one measures a sheet; the last four may be left at nothing. */
const MEASURES = ['page_width', 'page_height', 'columns', 'rows', 'label_width', 'label_height', 'margin_left', 'margin_top', 'gap_x', 'gap_y'];
const NEEDED = 6;

export function LabelStock() {
  const [known, setKnown] = useState<{ papers: Paper[]; rows: Advice[]; always: string[] } | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [on, setOn] = useState<Printer>(printer);
  const own = app().ref.value.settings;
  const [method, setMethod] = useState(typeof own['method'] === 'string' ? own['method'] : '');
  const [material, setMaterial] = useState(typeof own['material'] === 'string' ? own['material'] : '');
  const [speaks, setSpeaks] = useState(typeof own['label_language'] === 'string' ? own['label_language'] : '');
  useEffect(() => {
    Promise.all([papers(), advice()]).then(([found, { rows, always }]) => setKnown({ papers: found, rows, always }), (error: unknown) => setWrong(labelTrouble(error)));
  }, []);
  const change = (more: Partial<Printer>): void => {
    const next = { ...on, ...more, ...(more.stock !== undefined && more.stock !== on.stock ? { start: 0 } : {}) };
    setOn(next);
    keepPrinter(next);
  };
  const row = known?.rows.find((one) => one.method === method && one.material === material);
  const paper = known?.papers.find(({ name }) => name === on.stock);
  const choices = (field: string): { value: string; name: string }[] =>
    (kind('label.chosen').fields.find(({ name }) => name === field)?.choices ?? []).map((word) => ({ value: word, name: choiceName(field, word) }));
  const keep = (): void => void save([{ ty: 'label.chosen', sub: [], d: { label_stock: on.stock, ...(method ? { method } : {}), ...(material ? { material } : {}), ...(speaks ? { label_language: speaks } : {}) } }], t('label_set.stock.saved'));
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.stock')} sub={t('label_set.stock.about')} />
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!known && !wrong && <Loading />}
      {known && (
        <div class="sides">
          <div class="stack">
            <ChoiceGrid label={t('field.label_chosen.method')} value={method || null} onPick={setMethod} options={choices('method')} />
            <ChoiceGrid label={t('field.label_chosen.material')} value={material || null} onPick={setMaterial} options={choices('material')} />
            {row && <Heat row={row} />}
            {known.always.map((id) => <p class="note note-care" key={id}><Mark kind="care" /><span>{t(id)}</span></p>)}
            <a class="btn" href={to('labels', 'test')}>{t('label_set.test')}</a>
          </div>
          <div class="stack">
            <ChoiceGrid label={t('field.label_chosen.label_stock')} value={on.stock} onPick={(stock) => change({ stock })}
              options={[...new Set([...known.papers.map(({ name }) => name), farmStock(), on.stock])].map((name) => ({ value: name, ...aboutOf(name, known.papers) }))} />
            <OwnStock now={on.stock} onPick={(stock) => change({ stock })} />
            {paper && !paper.fits.includes('K') && <p class="small">{t('label_set.stock.not_for', { tags: ['P', 'K', 'S', 'H', 'M', 'W'].filter((letter) => !paper.fits.includes(letter)).map((letter) => t(`type.${letter}`)).join(', ') })}</p>}
            <ChoiceGrid label={t('field.label_chosen.label_language')} value={speaks || null} onPick={setSpeaks}
              options={LANGUAGES.map((one) => ({ value: one, name: t(`settings.language.${one}`) }))} />
            <p class="small quiet">{t('label_set.language.about')}</p>
            <PrinterForm on={on} onChange={change} />
            <Picture job={{ ...onPaper(on), start: on.start }} labels={[sampleOf('B', (letter) => app().newCode(letter))]} />
            <button type="button" class="btn btn-first" onClick={keep}>{t('label_set.stock.keep')}</button>
            <Pdf key={JSON.stringify(on)} title={t('label_set.calibrate')} about={t('label_set.calibrate.about')} name="calibration"
              make={() => app().labels('/calibration', 'application/pdf', { ...onPaper(on), words: onLabel(() => t('label_set.calibrate.words')) })} />
          </div>
        </div>
      )}
    </main>
  );
}

function aboutOf(name: string, known: Paper[]): { name: string; about?: string } {
  const words = stockName(name);
  const paper = known.find((one) => one.name === name);
  return words.about || !paper ? words : { ...words, about: t('stock.size', { w: num(paper.label_width), h: num(paper.label_height) }) };
}

/** What becomes of the stock in steam, told by mark and word. */
function Heat({ row }: { row: Advice }) {
  return (
    <section class={`note note-${MARKS[row.steam]}`}>
      <Mark kind={MARKS[row.steam]} />
      <strong>{t(`label_set.steam.${row.steam}`)}</strong>
      <div class="stack-close">
        {row.sentences.map((id) => <p key={id}>{t(id)}</p>)}
        <p class="small quiet">{t(`label_set.grade.${row.grade}`)}</p>
      </div>
    </section>
  );
}

/** A sheet or roll that stands in no table: measured by its owner. */
function OwnStock({ now, onPick }: { now: string; onPick: (stock: string) => void }) {
  const [values, setValues] = useState<Record<string, string>>(() => Object.fromEntries(Object.entries(measures(now) ?? {}).map(([name, value]) => [name, String(value)])));
  const [tried, setTried] = useState(false);
  const figure = (name: string): number => {
    const text = (values[name] ?? '').trim().replace(',', '.');
    if (text === '') return MEASURES.indexOf(name) < NEEDED ? NaN : 0;
    const n = Number(text);
    return n >= 0 && (!['columns', 'rows'].includes(name) || Number.isInteger(n)) ? n : NaN;
  };
  const bad = MEASURES.filter((name) => Number.isNaN(figure(name)));
  const take = (): void => {
    setTried(true);
    if (bad.length === 0) onPick(JSON.stringify(Object.fromEntries(MEASURES.map((name) => [name, figure(name)]))));
  };
  return (
    <details class="card">
      <summary>{t('label_set.own')}</summary>
      <p class="small">{t('label_set.own.words')}</p>
      <div class="both">{MEASURES.map((name) => (
        <label class="field" key={name}><span class="field-label">{t(`label_set.own.${name}`)}</span>
          <input class="input" inputMode="decimal" value={values[name] ?? ''} aria-invalid={tried && bad.includes(name)} onInput={(e) => { const text = e.currentTarget.value; setValues((old) => ({ ...old, [name]: text })); }} /></label>
      ))}</div>
      {tried && bad.length > 0 && <p class="wrong" role="alert">{t('label_set.own.wrong', { fields: bad.map((name) => t(`label_set.own.${name}`)).join(', ') })}</p>}
      <button type="button" class="btn" onClick={take}>{t('label_set.own.take')}</button>
    </details>
  );
}
