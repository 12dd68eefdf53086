/**
 * Plain silence or a certificate that is not taken? To an installed app both look the same, and the second would
 * last for ever. The farm's computer has a page over plain http as well: where the browser lets it be asked from
 * here (Chromium does, for .local names and private numbers), an answer from it tells the two apart.
 */
import { isObject } from './check';

const KEY = 'bagtrail-plain-port';
const TIMEOUT_MS = 4_000;

/** Keeps the port of the plain page, while the farm answers over https. Never throws. */
export async function learnPlainPort(): Promise<void> {
  if (location.protocol !== 'https:') return;
  const said = await ask('/api/ping');
  if (said?.['k'] !== 'ping1' || typeof said['welcome'] !== 'number') return;
  try {
    localStorage.setItem(KEY, String(said['welcome']));
  } catch {
    // Without storage there is no hint.
  }
}

/** The plain page's address when the farm's computer is up and only https fails; null otherwise. Never throws. */
export async function plainAnswers(): Promise<string | null> {
  if (location.protocol !== 'https:') return null;
  let port: number;
  try {
    port = Number(localStorage.getItem(KEY));
  } catch {
    return null;
  }
  if (!Number.isInteger(port) || port < 1) return null;
  const base = `http://${location.hostname}:${port}/`;
  return (await ask(`${base}ping`))?.['k'] === 'welcome1' ? base : null;
}

async function ask(url: string): Promise<Record<string, unknown> | null> {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), TIMEOUT_MS);
  try {
    const reply = await fetch(url, { cache: 'no-store', credentials: 'omit', signal: stop.signal });
    const said: unknown = await reply.json();
    return isObject(said) ? said : null;
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}
