/**
 * The service worker: starts the app with no network. It holds exactly one set of files, the shell of
 * its own version, and nothing that belongs to the farm; records live in IndexedDB alone.
 *
 * install: every file of the shell into a cache of its version -> wait until the page says `skip` (or no
 * page of the old version is left) -> activate: caches of other versions go, open pages are taken over.
 */
const scope = self as unknown as ServiceWorkerGlobalScope;

const PREFIX = 'bagtrail-shell-';
const CACHE = PREFIX + __SHELL_VERSION__;
const FILES = new Set(__SHELL_FILES__);

/** Opened in a tab and no part of the shell, such as /licences.txt. Codes have no small letters. */
const OTHER_FILE = /\.[a-z0-9]{2,11}$/;

scope.addEventListener('install', (event) => event.waitUntil(fill()));

scope.addEventListener('activate', (event) => event.waitUntil(dropOthers().then(() => scope.clients.claim())));

scope.addEventListener('message', (event) => {
  // Never of our own accord: a page must not change under somebody's hands.
  if (event.data === 'skip') event.waitUntil(scope.skipWaiting());
});

scope.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== scope.location.origin) return;
  // The farm's data: never answered from a cache. Not answering leaves it to the network.
  if (url.pathname.startsWith('/api/')) return;
  if (FILES.has(url.pathname)) event.respondWith(file(url.pathname, request));
  else if (request.mode === 'navigate' && !OTHER_FILE.test(url.pathname)) event.respondWith(file('/', request));
});

/** All or nothing: one file that fails fails the install, and the version before goes on. */
async function fill(): Promise<void> {
  const cache = await caches.open(CACHE);
  // 'reload' asks the server past the browser's own cache, which may hold files of the version before.
  await cache.addAll(__SHELL_FILES__.map((path) => new Request(path, { cache: 'reload' })));
}

async function dropOthers(): Promise<void> {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(PREFIX) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
}

/** From the shell, '/' for every address inside the app: which screen it shows is the page's matter. */
async function file(path: string, request: Request): Promise<Response> {
  return (await stored(path)) ?? fetch(request);
}

async function stored(path: string): Promise<Response | undefined> {
  // Storage may be gone (evicted, cleared by hand): then the network is as good as it was before.
  try {
    return await (await caches.open(CACHE)).match(path);
  } catch {
    return undefined;
  }
}
