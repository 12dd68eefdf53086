/**
 * The file that carries records from a device that cannot reach the farm's computer: JSON lines. A head with the
 * farm, one line a record exactly as it would be sent (`[text, mac]`, or with `receipt, rmac` once it was
 * acknowledged), and an end with the number of records and the SHA-256 of all before it. The seals are the
 * records' own: whoever carries the file cannot change one unseen.
 */
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';
import { AppError } from './app-types';
import { isInt, isObject } from './check';
import type { Imported } from './others';

const FORMAT = 'bagtrail-records';
const VERSION = 1;
/** Far above what a phone keeps; a film taken for the file is not read into memory. */
export const MOST_BYTES = 100_000_000;

export interface Carried {
  text: string;
  mac: string;
  receipt?: string | undefined;
  rmac?: string | undefined;
}

/** What the head says: the farm, and of which device (`dev`, its letter) the records are. `made` in ms UTC. */
export interface Head {
  farm: string;
  dev: string;
  letter: string;
  made: number;
}

export interface Read {
  head: Head;
  records: Imported[];
  /** The file ends early: what is whole was read; how many records the file should hold is not known. */
  torn: boolean;
  /** It is another farm's: a person must say that it is wanted. */
  foreign: boolean;
}

/** The text of the file. */
export function written(head: Head, records: Carried[]): string {
  const lines = [JSON.stringify({ format: FORMAT, v: VERSION, ...head, n: records.length })];
  for (const { text, mac, receipt, rmac } of records) lines.push(JSON.stringify(receipt && rmac ? [text, mac, receipt, rmac] : [text, mac]));
  const body = `${lines.join('\n')}\n`;
  return `${body}${JSON.stringify({ end: records.length, sha256: digest(body) })}\n`;
}

/**
 * Reads a file for a farm; each record of another farm's says so (`from`).
 *
 * Throws AppError: `file_not_ours` (no such file), `file_newer`, `file_damaged` (what it holds is not what was
 * written). A file that only ends early is read as far as it goes.
 */
export function readFile(text: string, farm: string): Read {
  // An editor or a mail program may have put a mark before it, and changed the ends of lines.
  const whole = text.replace(/^\ufeff/, '').replaceAll('\r\n', '\n');
  const lines = whole.split('\n');
  const rest = lines.pop() ?? ''; // what follows the last end of line
  const head = headIn(lines.shift() ?? rest);
  const foreign = head.farm !== farm;
  const last = asJson(lines.at(-1) ?? '');
  const ended = isObject(last) && 'end' in last;
  if (ended) {
    const body = whole.slice(0, whole.lastIndexOf(lines.at(-1)!));
    lines.pop();
    if (last['end'] !== lines.length || last['sha256'] !== digest(body) || rest.trim()) throw damaged();
  }
  const records = lines.map(record);
  return { head, records: foreign ? records.map((one) => ({ ...one, from: head.farm })) : records, torn: !ended, foreign };
}

function headIn(line: string): Head & { n: number } {
  const found = asJson(line);
  if (!isObject(found) || found['format'] !== FORMAT) {
    throw new AppError('file_not_ours', 'This file holds no records of Bagtrail.', 'Choose the file that the other device made.');
  }
  if (found['v'] !== VERSION) throw new AppError('file_newer', 'This file was made by a newer version.', 'Update the app, then take it in.');
  const { farm, dev, letter, made, n } = found;
  if (typeof farm !== 'string' || typeof dev !== 'string' || typeof letter !== 'string' || !isInt(made) || !isInt(n)) throw damaged();
  return { farm, dev, letter, made, n };
}

function record(line: string): Imported {
  const found = asJson(line);
  if (!Array.isArray(found) || (found.length !== 2 && found.length !== 4) || !found.every((x) => typeof x === 'string')) throw damaged();
  const [text, mac, receipt, rmac] = found as [string, string, string?, string?];
  const id = /"id"\s*:\s*"([0-9a-f-]{36})"/.exec(text)?.[1];
  if (!id) throw damaged();
  return { id, text, mac, ...(receipt && rmac ? { receipt, rmac } : {}) };
}

const damaged = (): AppError => new AppError('file_damaged', 'This file was changed or damaged on the way.', 'Nothing of it was taken in. Make the file again on the other device.');

const digest = (text: string): string => bytesToHex(sha256(utf8ToBytes(text)));

function asJson(line: string): unknown {
  try {
    return JSON.parse(line);
  } catch {
    return undefined;
  }
}
