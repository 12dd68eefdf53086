/** A logger's file on its way to the farm's computer: read, named and sent piece by piece, so that 50 MB stay off the heap. */
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import type { Score } from '../trade/score';
import { app } from '../ui/app';

/** Bytes of one piece; in base64 they fit the server's bound of 512 KiB. */
const PIECE = 360 << 10;
/** What the server takes of one file. */
export const MOST = 64 << 20;

export interface Probe { column: number; name: string; unit: string }

/** How a log is written; see server/bagtrail/trade/csvlayout.py. */
export interface Layout {
  encoding: string;
  delimiter: string;
  decimal: string;
  skip: number;
  kind: string;
  columns: number[];
  order: string;
  unit_ms: number;
  probes: Probe[];
}

/** The first rows as the server cut them, and how it did. */
export interface Seen { layout: Layout; names: string[]; rows: string[][] }

export interface Answer extends Seen { sha256: string; score: Score }

/** Sends a file; returns its checksum. `told` hears what share is done, 0 to 1. Throws AppError. */
export async function sendLog(file: File, told: (share: number) => void): Promise<string> {
  const sum = sha256.create();
  for (let at = 0; at < file.size; at += PIECE) sum.update(await piece(file, at));
  const sha = bytesToHex(sum.digest());
  const send = (offset: number, data: string): Promise<Record<string, unknown>> =>
    app().ask('/api/loads/log', { sha256: sha, bytes: file.size, offset, data });
  let got = await send(0, '');
  while (got['whole'] !== true) {
    const have = Number(got['have']);
    told(have / file.size);
    got = await send(have, base64(await piece(file, have)));
    if (got['whole'] !== true && Number(got['have']) <= have) throw new Error('the farm\u2019s computer took nothing');
  }
  told(1);
  return sha;
}

async function piece(file: File, at: number): Promise<Uint8Array> {
  return new Uint8Array(await file.slice(at, at + PIECE).arrayBuffer());
}

function base64(bytes: Uint8Array): string {
  let text = '';
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}
