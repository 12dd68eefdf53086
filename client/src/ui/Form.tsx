/**
 * A form made from a kind of the catalogue: one control a field, the same validation, and "happened earlier"
 * on every one of them (as `on` where the kind is timed, as its field `was` where it is not).
 */
import type { ComponentChildren } from 'preact';
import { useRef, useState } from 'preact/hooks';
import type { Happened } from '../app-types';
import { choiceName, fieldId, has, t } from '../i18n';
import { noon, wall } from '../i18n/format';
import type { Field, Kind } from './catalogue';
import { ChoiceGrid } from './Choice';
import { CodeEntry } from './CodeEntry';
import { HappenedEarlier } from './Happened';
import { PartsEditor, type PartRow } from './PartsEditor';
import { PlacePicker, RecipePicker, SpawnPicker, StrainPicker } from './Pick';
import { saving } from './act';
import { anyName } from './names';
import { readForm, typedUnit, type Values, type Wrong } from './validate';

export interface Filled {
  d: Record<string, unknown>;
  on?: Happened;
}

interface Props {
  kind: Kind;
  /** What the fields hold at first, as typed text or stored value. */
  start?: Values;
  /** Fields the screen fills in itself. */
  hide?: string[];
  submit: string;
  onSubmit: (filled: Filled) => void;
  /** Shown between the fields and the button. */
  children?: ComponentChildren;
  /** Fields needed here although the catalogue lets them be absent. */
  need?: string[];
  /** What it counts for unless another time is said: a record written again keeps its own. */
  since?: Happened;
}

export function Form({ kind, start, hide = [], submit, onSubmit, children, need = [], since }: Props) {
  const [values, setValues] = useState<Values>(start ?? {});
  const [wrong, setWrong] = useState<Wrong>({});
  const [at, setAt] = useState<Happened | null | 'future'>(null);
  const form = useRef<HTMLFormElement>(null);
  const shown = kind.fields
    .filter((f) => f.type !== 'was' && !hide.includes(f.name))
    .map((f) => (need.includes(f.name) ? { ...f, required: true } : f));
  const label = (f: Field): string => t(fieldId(kind.name, f.name));
  const set = (name: string, value: unknown): void => {
    setValues((old) => ({ ...old, [name]: value }));
    setWrong((old) => { const { [name]: _gone, ...rest } = old; return rest; });
  };
  const send = (e: Event): void => {
    e.preventDefault();
    if (at === 'future') return;
    const read = readForm({ fields: shown }, values, label);
    setWrong(read.wrong);
    const first = Object.keys(read.wrong)[0];
    if (first) {
      // The eye and the reader's voice go to the first thing to mend.
      form.current?.querySelector<HTMLElement>(`[data-field="${first}"] :is(input,textarea,button)`)?.focus();
      return;
    }
    if (at && !kind.timed && kind.fields.some((f) => f.type === 'was')) onSubmit({ d: { ...read.d, was: at } });
    else onSubmit({ d: read.d, ...(at && kind.timed ? { on: at } : {}) });
  };
  // A kind with neither (a void, a naming) has no time of its own to state.
  const earlier = kind.timed || kind.fields.some((f) => f.type === 'was');
  return (
    <form ref={form} class="stack" onSubmit={send} noValidate>
      {shown.map((f) => (
        <div class="field" key={f.name} data-field={f.name}>
          <Control field={f} label={label(f)} value={values[f.name]} wrong={wrong[f.name]} onChange={(v) => set(f.name, v)} hint={hintOf(kind.name, f)} />
          {wrong[f.name] && <p class="wrong" id={`w-${f.name}`} role="alert">{wrong[f.name]}</p>}
        </div>
      ))}
      {children}
      {earlier && <HappenedEarlier onChange={setAt} since={since} />}
      <button type="submit" class="btn btn-first" disabled={saving.value || at === 'future'}>{submit}</button>
    </form>
  );
}

const hintOf = (kindName: string, f: Field): string | undefined => {
  const id = `${fieldId(kindName, f.name)}.hint`;
  return has(id) ? t(id) : undefined;
};

interface ControlProps {
  field: Field;
  label: string;
  value: unknown;
  wrong?: string | undefined;
  hint?: string | undefined;
  onChange: (value: unknown) => void;
}

function Control({ field: f, label, value, wrong, hint, onChange }: ControlProps) {
  const optional = !f.required;
  const head = <>{label}{optional && <span class="must"> {t('field.optional')}</span>}</>;
  const about = { 'aria-invalid': Boolean(wrong), ...(wrong ? { 'aria-describedby': `w-${f.name}` } : {}) };
  const text = typeof value === 'string' ? value : '';
  switch (f.type) {
    case 'choice':
      return <ChoiceGrid label={optional ? `${label} ${t('field.optional')}` : label} looks={(f.choices ?? []).some((c) => has(`choice.${f.name}.${c}.looks`))} value={text || null}
        onPick={(v) => onChange(v === text && optional ? '' : v)}
        options={(f.choices ?? []).map((c) => ({ value: c, name: choiceName(f.name, c), about: has(`choice.${f.name}.${c}.looks`) ? t(`choice.${f.name}.${c}.looks`) : undefined }))} />;
    case 'flag':
      return (
        <button type="button" class="choice" aria-pressed={value === true} onClick={() => onChange(value !== true)}>
          <span>{label}</span>{hint && <small>{hint}</small>}
        </button>
      );
    case 'parts':
      return <PartsEditor label={label} rows={Array.isArray(value) ? (value as PartRow[]) : []} onChange={onChange} />;
    case 'code': {
      const letter = f.letters?.[0] ?? '';
      const props = { label: optional ? `${label} ${t('field.optional')}` : label, value: typeof value === 'string' ? value : null, onPick: onChange, none: optional };
      if (letter === 'P') return <PlacePicker {...props} />;
      if (letter === 'S') return <SpawnPicker {...props} />;
      if (letter === 'strain') return <StrainPicker {...props} />;
      if (letter === 'recipe') return <RecipePicker {...props} />;
      return (
        <>
          <span class="field-label">{head}</span>
          {text && <p>{anyName(text)} <button type="button" class="btn btn-bare" onClick={() => onChange('')}>{t('pick.clear')}</button></p>}
          <CodeEntry letter={letter} onCode={onChange} />
        </>
      );
    }
    case 'time': {
      const w = typeof value === 'number' ? wall(value) : null;
      return (
        <label class="field"><span class="field-label">{head}</span>
          <input class="input" type="date" {...about} value={w ? `${w.y}-${String(w.m).padStart(2, '0')}-${String(w.d).padStart(2, '0')}` : ''}
            onInput={(e) => {
              const found = /^(\d{4})-(\d\d)-(\d\d)$/.exec(e.currentTarget.value);
              onChange(found ? noon(Number(found[1]), Number(found[2]), Number(found[3])) : null);
            }} />
        </label>
      );
    }
    case 'int':
    case 'text': {
      const unit = f.type === 'int' ? typedUnit(f) : '';
      const long = f.type === 'text' && (f.max ?? 0) > 200;
      return (
        <label class="field"><span class="field-label">{head}</span>
          {hint && <span class="hint">{hint}</span>}
          {long
            ? <textarea class="input" dir="auto" {...about} value={text} onInput={(e) => onChange(e.currentTarget.value)} />
            : (
              <span class={unit ? 'input-unit' : ''}>
                <input class="input" dir={f.type === 'text' ? 'auto' : 'ltr'} inputMode={f.type === 'int' ? ((f.min ?? 0) < 0 ? 'text' : 'decimal') : 'text'}
                  autoComplete="off" required={Boolean(f.required)} {...about} value={text} onInput={(e) => onChange(e.currentTarget.value)} />
                {unit && <span>{unit}</span>}
              </span>
            )}
        </label>
      );
    }
    default:
      return null;
  }
}

