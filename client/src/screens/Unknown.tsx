/** A right code this device knows nothing of: what its tag may become, by its letter. */
import { t } from '../i18n';
import { spacedCode } from '../i18n/format';
import { app } from '../ui/app';
import { AskNote } from '../ui/Notes';
import { to } from '../ui/route';
import { Head } from './parts';

// A right code this device knows nothing of: never issued, still blank, or not yet pulled. What it may become
// follows from its letter.
export function UnknownCode({ code }: { code: string }) {
  const letter = code[0] ?? '';
  const online = app().link.value.state === 'ok';
  return (
    <main class="screen" id="main">
      <Head title={spacedCode(code)} sub={t(`type.${letter}`)} />
      <AskNote what={t(letter === 'X' ? 'unknown.command' : 'unknown.what', { type: t(`type.${letter}`) })}>{t(online ? 'unknown.todo' : 'unknown.todo_offline')}</AskNote>
      <div class="stack">
        {letter === 'P' && <a class="btn btn-first" href={to('setup', 'places', code)}>{t('unknown.name_place')}</a>}
        {letter === 'S' && <a class="btn btn-first" href={to('setup', 'spawn', code)}>{t('unknown.name_spawn')}</a>}
        {letter === 'W' && <a class="btn btn-first" href={to('setup', 'people', code)}>{t('unknown.name_person')}</a>}
        {letter === 'H' && <a class="btn btn-first" href={to('load', code)}>{t('load.new')}</a>}
        {(letter === 'B' || letter === 'G') && <a class="btn btn-first" href={to('adopt', code)}>{t('unknown.adopt')}</a>}
        <a class="btn" href={to('scan')}>{t('unknown.again')}</a>
      </div>
    </main>
  );
}
