/**
 * Screens that are fetched after the first paint, so that scanning is up sooner. On a phone that has run the
 * app once they come from the service worker's store, with or without a network.
 */
import { signal, type ReadonlySignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { t } from '../i18n';
import { ErrorNote } from '../ui/Notes';
import { Loading } from './parts';

export interface Later<T> {
  /** The module, or null while it is not here. */
  here: ReadonlySignal<T | null>;
  missing: ReadonlySignal<boolean>;
  /** Fetches it if it is not here; never throws, `missing` says that it failed. */
  fetch(): Promise<void>;
}

export function later<T>(load: () => Promise<T>): Later<T> {
  const here = signal<T | null>(null);
  const missing = signal(false);
  return {
    here,
    missing,
    async fetch() {
      missing.value = false;
      try {
        here.value ??= await load();
      } catch {
        missing.value = true;
      }
    },
  };
}

/** In place of a screen that is being fetched; where it cannot be had, a way to try again. */
export function Fetching({ of }: { of: Later<unknown> }) {
  useEffect(() => void of.fetch(), [of]);
  return (
    <main class="screen" id="main">
      {of.missing.value
        ? <><ErrorNote what={t('desk.missing')} todo={t('desk.missing.todo')} /><button type="button" class="btn" onClick={() => void of.fetch()}>{t('desk.again')}</button></>
        : <Loading />}
    </main>
  );
}
