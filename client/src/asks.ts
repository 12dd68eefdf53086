/** What screens ask the farm's computer and nobody keeps: papers, codes, health, the scale, photographs. */
import type { Api } from './api';
import type { App, Health, PairingCode, ScaleLines } from './app-types';
import type { Pairing } from './outbox';

/** Asks as this device, and tells a failure as an AppError. */
type Ask = <T>(ask: (pairing: Pairing, api: Api) => Promise<T>) => Promise<T>;

/** A question as screens know it: without who asks. */
export type Far<F> = F extends (ask: Ask, ...args: infer A) => infer R ? (...args: A) => R : never;

export type Asks = typeof asks;

const json = async (ask: Ask, path: string, body?: object): Promise<Record<string, unknown>> =>
  (await ask((pairing, api) => api.json(path, pairing, body))).body;

export const asks = {
  labels: (ask: Ask, path: string, type: string, body?: object): Promise<Blob> =>
    ask((pairing, api) => api.blob(`/api/labels${path}`, pairing, body, type)),

  paper: (ask: Ask, kind: string, words: object): Promise<Blob> =>
    ask((pairing, api) => api.blob(`/api/papers/${kind}`, pairing, words, 'application/pdf')),

  async pairingCode(ask: Ask, role: string, person?: string): Promise<PairingCode> {
    const { code, expires, url, invitation } = await json(ask, '/api/devices/codes', { role, ...(person ? { person } : {}) });
    return { code, expires, url, invitation: invitation ?? null } as PairingCode;
  },

  health: async (ask: Ask): Promise<Health> => (await json(ask, '/api/health')) as unknown as Health,

  scale: async (ask: Ask, after: number): Promise<ScaleLines> => (await json(ask, `/api/scale?after=${after}`)) as unknown as ScaleLines,

  async photoPart(ask: Ask, piece: Parameters<App['photoPart']>[0]): Promise<{ have: number; whole: boolean }> {
    const { have, whole } = await json(ask, '/api/photos', piece);
    return { have: Number(have), whole: whole === true };
  },

  async photosStanding(ask: Ask, sha256: string[]): Promise<{ missing: string[]; safe: string[] }> {
    const { missing, safe } = await json(ask, '/api/photos/standing', { sha256 });
    return { missing: missing as string[], safe: safe as string[] };
  },

  photo: (ask: Ask, sha256: string): Promise<Blob> =>
    ask((pairing, api) => api.blob(`/api/photos/${sha256}`, pairing, undefined, 'image/jpeg')),

  pairingSheet: (ask: Ask): Promise<Blob> =>
    ask((pairing, api) => api.blob('/api/network/sheet', pairing, {}, 'application/pdf')),

  /** Any other question whose answer is a JSON object. */
  ask: json,
};
