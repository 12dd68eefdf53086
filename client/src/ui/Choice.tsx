/** Big choices, one or none; the chosen one carries a tick and a thick edge. */
import type { ComponentChildren } from 'preact';

export interface Option {
  value: string;
  name: string;
  about?: string | undefined;
  picture?: ComponentChildren;
}

interface Props {
  label: string;
  options: Option[];
  value: string | null;
  onPick: (value: string) => void;
  /** One below the other, for long words. */
  single?: boolean;
  /** The label is already on screen as a heading. */
  quiet?: boolean;
  /** Each choice has a picture and a sentence: wide tiles. */
  looks?: boolean;
}

export function ChoiceGrid({ label, options, value, onPick, single, quiet, looks }: Props) {
  return (
    <fieldset role="radiogroup" aria-label={label}>
      {!quiet && <legend>{label}</legend>}
      <div class={`choices${single ? ' choices-one' : ''}${looks ? ' choices-looks' : ''}`}>
        {options.map((o) => (
          <button type="button" key={o.value} role="radio" aria-checked={o.value === value}
            class={`choice${o.picture ? ' choice-pic' : ''}`} onClick={() => onPick(o.value)}>
            {o.picture}
            <span dir="auto">{o.name}</span>
            {o.about && <small dir="auto">{o.about}</small>}
          </button>
        ))}
      </div>
    </fieldset>
  );
}
