/** The camera; a code leads to its page. The wedge scanner needs no screen at all, typing is one tap away. */
import { useEffect } from 'preact/hooks';
import type { ResolvedType } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { CodeEntry } from '../ui/CodeEntry';
import { useAnswer } from '../ui/load';
import { AskNote } from '../ui/Notes';
import { go, goInstead, to } from '../ui/route';
import { Camera } from '../ui/ScanPane';
import { spacedCode } from '../i18n/format';
import { Head, Heading, Loading } from './parts';

export function Scan() {
  return (
    <main class="screen" id="main">
      <Heading text={t('nav.scan')} unseen />
      <Camera />
      <p class="quiet small">{t('scan.hint')}</p>
      <CodeEntry onCode={(code) => go('c', code)} open />
    </main>
  );
}

/** A code's own page: looked up first, for a tag's letter says what it is meant for, not what it is. */
export function CodePage({ code }: { code: string }) {
  const got = useAnswer(() => app().resolve(code), [code]);
  if (got === undefined) return <main class="screen" id="main"><Loading /></main>;
  const page = got && PAGES[got.type];
  if (!page) return <UnknownCode code={code} />;
  return <GoInstead page={page} code={code} />;
}

const PAGES: Partial<Record<ResolvedType, string>> = {
  part: 'bag', batch: 'batch', place: 'place', spawn: 'thing', load: 'thing', crate: 'thing', person: 'thing',
};

function GoInstead({ page, code }: { page: string; code: string }) {
  useEffect(() => goInstead(page, code), [page, code]);
  return <main class="screen" id="main"><Loading /></main>;
}

// A right code this device knows nothing of: never issued, still blank, or not yet pulled. What it may become
// follows from its letter.
function UnknownCode({ code }: { code: string }) {
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
        {(letter === 'B' || letter === 'G') && <a class="btn btn-first" href={to('adopt', code)}>{t('unknown.adopt')}</a>}
        <a class="btn" href={to('scan')}>{t('unknown.again')}</a>
      </div>
    </main>
  );
}
