/** A code typed by hand: read leniently, and a slip is told by the symbol that may be wrong. */
import { useState } from 'preact/hooks';
import { read, type Reading } from '../scan/read';
import { t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { app } from './app';
import { AskNote, ErrorNote } from './Notes';
import { sayReading } from './reading';
import { known } from './known';

interface Props {
  onCode: (code: string) => void;
  /** Only this type letter is wanted here. */
  letter?: string;
  open?: boolean;
}

export function CodeEntry({ onCode, letter, open }: Props) {
  const [text, setText] = useState('');
  const [reading, setReading] = useState<Reading | null>(null);
  const submit = (e: Event): void => {
    e.preventDefault();
    const got = read(text, { farmTag: app().device.value?.tag ?? null, how: 'typed', known });
    setReading(got);
    if (got.kind === 'code' && !(letter && !got.code.startsWith(letter))) {
      setText('');
      onCode(got.code);
    }
  };
  const wrongType = reading?.kind === 'code' && letter !== undefined && !reading.code.startsWith(letter);
  const words = reading && reading.kind !== 'code' ? sayReading(reading) : null;
  const guesses = reading?.kind === 'mistyped' ? reading.guesses.slice(0, 3) : [];
  const form = (
    <form class="stack" onSubmit={submit} noValidate>
      <label class="field"><span class="field-label">{t('code.type')}</span>
        <div class="input-unit">
          <input class="input code" value={text} autoComplete="off" autoCapitalize="characters" spellcheck={false} dir="ltr" maxLength={80}
            placeholder="B7K 3Q9 TZW" aria-invalid={Boolean(words) || wrongType} onInput={(e) => { setText(e.currentTarget.value); setReading(null); }} />
          <button class="btn" type="submit">{t('code.go')}</button>
        </div>
      </label>
      {wrongType && letter && <ErrorNote what={t('scan.wrong_type', { want: t(`type.${letter}`), got: t(`type.${reading.code[0] ?? 'B'}`) })} />}
      {words && guesses.length === 0 && <ErrorNote what={words} />}
      {words && guesses.length > 0 && (
        <AskNote what={words}>
          <div class="row">{guesses.map((g) => (
            <button type="button" class="btn grow" key={g.code} onClick={() => { setText(''); setReading(null); onCode(g.code); }}>
              <SlipCode code={g.code} at={g.position} wide={g.swap} />
            </button>
          ))}</div>
        </AskNote>
      )}
    </form>
  );
  return open ? form : <details><summary>{t('code.or_type')}</summary>{form}</details>;
}

/** A code with the doubtful symbols boxed. */
function SlipCode({ code, at, wide }: { code: string; at: number; wide: boolean }) {
  return (
    <span class="code" aria-label={spacedCode(code)}>
      {[...code].map((s, i) => (i === at || (wide && i === at + 1) ? <mark key={i}>{s}</mark> : s))}
    </span>
  );
}
