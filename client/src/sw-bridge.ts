/**
 * The page's side of the service worker: registers it, tells of a version that waits, changes to it when
 * somebody asks and nothing is in flight.
 */
import { signal, type ReadonlySignal } from '@preact/signals';

/**
 * none: this browser or address has no service worker; starting: first install; ready: starts with no
 * network; waiting: so does a newer version; refused: the certificate was only clicked away (or storage is
 * barred), so the app would not start with no network.
 */
export type ShellState = 'none' | 'starting' | 'ready' | 'waiting' | 'refused';

const state = signal<ShellState>('none');
export const shellState: ReadonlySignal<ShellState> = state;

/** How often a page that stays open looks for a new version (ms). */
const LOOK_EVERY = 60 * 60 * 1000;

let registration: ServiceWorkerRegistration | undefined;

/**
 * Registers the service worker. `busy` says that something is in flight: an unsaved form, a write, a push.
 * Never throws: what became of it is in `shellState`.
 */
export async function startShell(busy: () => boolean): Promise<void> {
  // Absent without https, where the camera is absent too; the development server has no /sw.js.
  if (!('serviceWorker' in navigator) || import.meta.env.DEV) return;
  const workers = navigator.serviceWorker;
  state.value = 'starting';
  // With the first worker nothing changes; a later one means that this page's own files are gone.
  let had = workers.controller !== null;
  workers.addEventListener('controllerchange', () => {
    if (had) void reloadWhenIdle(busy);
    had = true;
  });
  try {
    registration = await workers.register('/sw.js', { updateViaCache: 'none' });
  } catch (error) {
    // After a click through the certificate's warning everything else looks fine; this alone fails.
    state.value = workers.controller ? 'ready' : 'refused';
    console.warn('the service worker was not registered', error);
    return;
  }
  follow(registration);
  registration.addEventListener('updatefound', () => follow(registration as ServiceWorkerRegistration));
  setInterval(lookForUpdate, LOOK_EVERY);
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) lookForUpdate();
  });
}

function lookForUpdate(): void {
  // Fails with no network: there is nothing newer to be had then.
  registration?.update().catch(() => undefined);
}

function follow(reg: ServiceWorkerRegistration): void {
  const note = (): void => {
    if (reg.waiting && reg.active) state.value = 'waiting';
    else if (reg.active) state.value = 'ready';
    else if (!reg.installing && !reg.waiting) state.value = 'refused';
  };
  note();
  reg.installing?.addEventListener('statechange', note);
}

/**
 * Changes to the waiting version; every open page then loads anew as soon as it is idle. False when there
 * is nothing to change to, or `busy` says no.
 */
export function applyUpdate(busy: () => boolean): boolean {
  const waiting = registration?.waiting;
  if (!waiting || busy()) return false;
  waiting.postMessage('skip');
  return true;
}

async function reloadWhenIdle(busy: () => boolean): Promise<void> {
  while (busy()) await new Promise((resolve) => setTimeout(resolve, 200));
  location.reload();
}
