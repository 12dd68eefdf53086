/** Hash routes: `#/move/B7K3Q9TZW?shelf=1`. A hash needs no server, so a reload offline works anywhere. */
import { signal } from '@preact/signals';

export interface Route {
  name: string;
  args: string[];
  query: URLSearchParams;
}

export function parseHash(hash: string): Route {
  const [path = '', query = ''] = hash.replace(/^#\/?/, '').split('?', 2);
  const decode = (s: string): string => {
    try {
      return decodeURIComponent(s);
    } catch {
      return s; // a lone % typed by hand
    }
  };
  const [name = '', ...args] = path.split('/').map(decode);
  return { name, args: args.filter(Boolean), query: new URLSearchParams(query) };
}

/** Before the address was read. */
const UNREAD = '?';

export const route = signal<Route>({ name: UNREAD, args: [], query: new URLSearchParams() });

/** The path of a screen, for a link's href. */
export const to = (name: string, ...args: string[]): string =>
  `#/${[name, ...args].map(encodeURIComponent).join('/')}`;

export const go = (name: string, ...args: string[]): void => { location.hash = to(name, ...args); };

// How many of our own screens lie behind this one. The browser's history also holds strangers' pages: going
// back from a screen opened by a label's address must not leave the app.
let depth = 0;
let replacing = false;

/** Goes there without leaving this screen behind "back": after a save nobody wants the form again. */
export const goInstead = (name: string, ...args: string[]): void => {
  replacing = true;
  location.replace(to(name, ...args));
};

export const back = (): void => {
  if (depth > 0) history.back();
  else goInstead('');
};

/** A pairing code in the address (`#pair=ABCD2345`), taken out of it so that it is not kept or shared. */
export function takePairCode(): string | null {
  const found = /^#pair=([0-9A-Za-z-]{8,12})$/.exec(location.hash);
  if (!found) return null;
  history.replaceState(null, '', location.pathname);
  return found[1] ?? null;
}

export function startRoutes(): void {
  const read = (): void => {
    const known: unknown = (history.state as { depth?: unknown } | null)?.depth;
    if (typeof known === 'number') depth = known;
    else {
      if (!replacing && route.value.name !== UNREAD) depth += 1;
      history.replaceState({ depth }, '');
    }
    replacing = false;
    route.value = parseHash(location.hash);
  };
  addEventListener('hashchange', read);
  read();
}
