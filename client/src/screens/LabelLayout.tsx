/** What stands on each type of label and in which order, beside its living picture. */
import { useEffect, useState } from 'preact/hooks';
import { num, t } from '../i18n';
import { layouts, layoutText, type Layouts, type Part } from '../labels/ask';
import { Picture } from '../labels/picture';
import { onPaper, printer } from '../labels/printer';
import { sampleOf } from '../labels/sample';
import { app } from '../ui/app';
import { save } from '../ui/act';
import { ChoiceGrid } from '../ui/Choice';
import { ErrorNote } from '../ui/Notes';
import { labelTrouble } from '../ui/PrintLabels';
import { Head, Loading } from './parts';

/** Whose layout a field of label.chosen is (server: printing.LAYOUTS). */
const FIELDS: Record<string, string> = {
  B: 'layout_bag', G: 'layout_group', P: 'layout_place', S: 'layout_spawn', H: 'layout_load', M: 'layout_batch', K: 'layout_crate', W: 'layout_person',
};

export function LabelLayout() {
  const [known, setKnown] = useState<Layouts | null>(null);
  const [wrong, setWrong] = useState<{ what: string; todo: string } | null>(null);
  const [letter, setLetter] = useState('B');
  const [parts, setParts] = useState<Part[]>([]);
  // One code a visit: the picture changes with the layout, not by itself.
  const [codes] = useState(() => Object.fromEntries(Object.keys(FIELDS).map((one) => [one, app().newCode(one)])));
  const show = (all: Layouts, one: string): void => { setLetter(one); setParts(all.own[one] ?? all.usual[one] ?? []); };
  useEffect(() => {
    layouts().then((all) => { setKnown(all); show(all, 'B'); }, (error: unknown) => setWrong(labelTrouble(error)));
  }, []);
  const set = (i: number, more: Partial<Part>): void => setParts(parts.map((part, k) => (k === i ? { ...part, ...more } : part)));
  const swap = (i: number, k: number): void => {
    const next = [...parts];
    [next[i], next[k]] = [next[k] as Part, next[i] as Part];
    setParts(next);
  };
  const keep = async (): Promise<void> => {
    const field = FIELDS[letter];
    if (!known || !field || !(await save([{ ty: 'label.chosen', sub: [], d: { [field]: layoutText(parts) } }], t('label_set.layout.saved')))) return;
    setKnown({ ...known, own: { ...known.own, [letter]: parts } });
  };
  const left = known?.fields.filter((field) => !parts.some((part) => part.field === field)) ?? [];
  return (
    <main class="screen" id="main">
      <Head title={t('label_set.layout')} sub={t('label_set.layout.about')} />
      {wrong && <ErrorNote what={wrong.what} todo={wrong.todo} />}
      {!known && !wrong && <Loading />}
      {known && (
        <div class="sides">
          <div class="stack">
            <ChoiceGrid label={t('label_set.tags.what')} value={letter} onPick={(one) => show(known, one)} options={Object.keys(FIELDS).map((one) => ({ value: one, name: t(`type.${one}`) }))} />
            <ul class="list">{parts.map((part, i) => (
              <li class="layout-part" key={part.field}>
                <b>{t(`tag_part.${part.field}`)}</b>
                <div class="row">
                  <select class="input" aria-label={t('label_set.layout.size', { part: t(`tag_part.${part.field}`) })} value={part.size} onChange={(e) => set(i, { size: e.currentTarget.value })}>
                    {known.sizes.map((size) => <option key={size} value={size}>{t(`tag_size.${size}`)}</option>)}
                  </select>
                  {!known.whole.includes(part.field) && (
                    <select class="input" aria-label={t('label_set.layout.lines', { part: t(`tag_part.${part.field}`) })} value={String(part.lines)} onChange={(e) => set(i, { lines: Number(e.currentTarget.value) })}>
                      {Array.from({ length: known.lines }, (_, n) => <option key={n} value={String(n + 1)}>{t('label_set.layout.n_lines', { n: n + 1 })}</option>)}
                    </select>
                  )}
                  <div class="layout-acts">
                  <button type="button" class="btn" aria-pressed={part.bold} aria-label={t('label_set.layout.bold', { part: t(`tag_part.${part.field}`) })} onClick={() => set(i, { bold: !part.bold })}>{part.bold ? <b>{t('label_set.layout.b')} ✓</b> : t('label_set.layout.b')}</button>
                  <button type="button" class="btn btn-icon" disabled={i === 0} aria-label={t('label_set.layout.up', { part: t(`tag_part.${part.field}`) })} onClick={() => swap(i, i - 1)}>↑</button>
                  <button type="button" class="btn btn-icon" disabled={i === parts.length - 1} aria-label={t('label_set.layout.down', { part: t(`tag_part.${part.field}`) })} onClick={() => swap(i, i + 1)}>↓</button>
                  <button type="button" class="btn btn-icon" aria-label={t('label_set.layout.off', { part: t(`tag_part.${part.field}`) })} onClick={() => setParts(parts.filter((_, k) => k !== i))}>×</button>
                  </div>
                </div>
              </li>
            ))}</ul>
            {left.length > 0 && <div class="chips">{left.map((field) => <button type="button" class="chip" key={field} onClick={() => setParts([...parts, { field, size: 'normal', lines: 1, bold: false }])}>+ {t(`tag_part.${field}`)}</button>)}</div>}
            <button type="button" class="btn" onClick={() => setParts(known.usual[letter] ?? [])}>{t('label_set.layout.usual')}</button>
          </div>
          <div class="stack label-live">
            <Picture job={{ ...onPaper({ ...printer(), stock: 'roll-50x30', x: 0, y: 0 }), ...(letter === 'B' || letter === 'G' ? {} : { stock: 'roll-100x50' }), layouts: { [letter]: parts } }}
              labels={[sampleOf(letter, (one) => codes[one] ?? app().newCode(one))]} />
            <p class="small quiet">{t('label_set.layout.words', { n: num(parts.length) })}</p>
            <button type="button" class="btn btn-first" onClick={() => void keep()}>{t('label_set.layout.keep')}</button>
          </div>
        </div>
      )}
    </main>
  );
}
