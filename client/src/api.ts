/**
 * Requests to the farm's computer. An answer counts only if it is ours: right status, JSON, right kind, farm
 * and nonce. A captive portal's page, a cached reply or another farm's server changes nothing.
 */
import { bearerTag } from './mac';
import { pass } from './pass';
import { randomHex } from './random';
import type { Pairing } from './outbox';
import type { Data } from './line';
import { isObject } from './check';

declare const __APP_VERSION__: string;

/** Tells the owner which phones have not taken up a new version. */
const VERSION: Record<string, string> = typeof __APP_VERSION__ === 'string' ? { 'X-Bagtrail-App': __APP_VERSION__ } : {};
const TIMEOUT_MS = 30_000;
/** Bodies below this gain nothing from gzip. */
const SMALL = 2_000;

export type Trouble = 'offline' | 'silent' | 'portal' | 'refused' | 'busy' | 'unpaired' | 'unconfirmed' | 'reset' | 'too_big' | 'wrong_farm';

/** Why an exchange brought nothing. `wait` is the server's Retry-After in ms. */
export class LinkError extends Error {
  constructor(
    readonly trouble: Trouble,
    message: string,
    readonly wait: number | null = null,
    readonly body: Data = {},
    readonly status = 0,
  ) {
    super(message);
    this.name = 'LinkError';
  }
}

export interface Reply {
  body: Data;
  sent: number;
  answered: number;
}

export type Fetch = (url: string, init: RequestInit) => Promise<Response>;

export class Api {
  constructor(
    private readonly fetching: Fetch = (url, init) => fetch(url, init),
    private readonly base = '',
    private readonly timeoutMs = TIMEOUT_MS,
  ) {}

  /** A GET or POST whose answer is a JSON object; throws LinkError. */
  async json(path: string, pairing: Pairing | null, body?: unknown): Promise<Reply> {
    const sent = Date.now();
    const response = await this.send(path, pairing, body);
    const text = await this.text(response);
    const answered = Date.now();
    const parsed = asObject(response, text);
    if (response.ok && parsed) return { body: parsed, sent, answered };
    throw refusal(response, parsed);
  }

  /** A POST whose answer is a file. */
  async blob(path: string, pairing: Pairing, body: unknown, type: string): Promise<Blob> {
    const response = await this.send(path, pairing, body);
    if (response.ok && response.headers.get('content-type')?.startsWith(type)) return response.blob();
    throw refusal(response, asObject(response, await this.text(response)));
  }

  private async send(path: string, pairing: Pairing | null, body: unknown): Promise<Response> {
    const headers: Record<string, string> = { Accept: 'application/json', ...VERSION };
    if (pairing) headers['Authorization'] = `Bearer ${pairing.dev}.${pairing.gen}.${bearerTag(pairing.key)}`;
    if (pairing && pass.text) headers['X-Bagtrail-Pass'] = pass.text;
    let payload: BodyInit | undefined;
    if (body !== undefined) {
      headers['Content-Type'] = 'application/json';
      const text = JSON.stringify(body);
      const packed = text.length > SMALL ? await gzip(text) : null;
      if (packed) headers['Content-Encoding'] = 'gzip';
      payload = packed ?? text;
    }
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), this.timeoutMs);
    try {
      return await this.fetching(this.base + path, {
        method: body === undefined ? 'GET' : 'POST', headers, signal: stop.signal, cache: 'no-store', credentials: 'omit',
        ...(payload === undefined ? {} : { body: payload }),
      });
    } catch (error) {
      throw unreachable(error);
    } finally {
      clearTimeout(timer);
    }
  }

  private async text(response: Response): Promise<string> {
    let timer: ReturnType<typeof setTimeout> | undefined;
    try {
      return await Promise.race([
        response.text(),
        new Promise<never>((_, reject) => { timer = setTimeout(() => reject(new Error('the answer stopped half-way')), this.timeoutMs); }),
      ]);
    } catch (error) {
      throw unreachable(error);
    } finally {
      clearTimeout(timer);
    }
  }
}

export const newNonce = (): string => randomHex(24);

/** Whether a reply is the one asked for: kind, farm and nonce all match. */
export function isOurs(body: Data, kind: string, pairing: Pairing, nonce?: string): boolean {
  return body['k'] === kind && body['farm'] === pairing.farm && (nonce === undefined || body['nonce'] === nonce);
}

export const notOurs = (): LinkError =>
  new LinkError('portal', 'Something other than the farm\u2019s computer answered.');

function unreachable(error: unknown): LinkError {
  const off = typeof navigator !== 'undefined' && navigator.onLine === false;
  return new LinkError(off ? 'offline' : 'silent', error instanceof Error ? error.message : String(error));
}

function asObject(response: Response, text: string): Data | null {
  if (!response.headers.get('content-type')?.includes('application/json')) return null;
  try {
    const parsed: unknown = JSON.parse(text);
    return isObject(parsed) ? parsed : null;
  } catch {
    return null;
  }
}

function refusal(response: Response, body: Data | null): LinkError {
  const { status } = response;
  const wait = retryAfter(response.headers.get('retry-after'));
  const error: Data = isObject(body?.['error']) ? body['error'] : {};
  const words = typeof error['message'] === 'string' ? error['message'] : `The farm\u2019s computer answered ${status}.`;
  const of = (trouble: Trouble): LinkError => new LinkError(trouble, words, wait, body ?? {}, status);
  // A proxy may answer 413 or 503 in its own words: these mean the same whoever says them.
  if (status === 413) return of('too_big');
  if (status === 429 || status === 503 || status === 502 || status === 504) return of('busy');
  if (!body || !('error' in body || 'k' in body)) {
    return status >= 500 && status !== 511 ? of('busy') : new LinkError('portal', words, wait, {}, status);
  }
  if (status === 403 && error['code'] === 'unconfirmed') return of('unconfirmed');
  if (status === 401 || status === 403) return of('unpaired');
  if (status === 409) return of(body['k'] === 'reset' ? 'reset' : 'wrong_farm');
  return of(status >= 500 ? 'busy' : 'refused');
}

function retryAfter(header: string | null): number | null {
  if (!header) return null;
  if (/^\d{1,6}$/.test(header)) return Number(header) * 1_000;
  const at = Date.parse(header);
  return Number.isNaN(at) ? null : Math.max(0, at - Date.now());
}

async function gzip(text: string): Promise<ArrayBuffer | null> {
  if (typeof CompressionStream === 'undefined') return null;
  return new Response(new Blob([text]).stream().pipeThrough(new CompressionStream('gzip'))).arrayBuffer();
}
