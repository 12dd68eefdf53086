/** The camera; a code leads to its page. The wedge scanner needs no screen at all, typing is one tap away. */
import { useEffect } from 'preact/hooks';
import type { ResolvedType } from '../app-types';
import { t } from '../i18n';
import { app } from '../ui/app';
import { CodeEntry } from '../ui/CodeEntry';
import { useAnswer } from '../ui/load';
import { go, goInstead } from '../ui/route';
import { Camera } from '../ui/ScanPane';
import { Heading, Loading } from './parts';

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
  const page = (got && PAGES[got.type]) ?? 'unknown';
  return <GoInstead page={page} code={code} />;
}

const PAGES: Partial<Record<ResolvedType, string>> = {
  part: 'bag', batch: 'batch', place: 'place', spawn: 'thing', load: 'load', crate: 'thing', person: 'thing',
};

function GoInstead({ page, code }: { page: string; code: string }) {
  useEffect(() => goInstead(page, code), [page, code]);
  return <main class="screen" id="main"><Loading /></main>;
}
