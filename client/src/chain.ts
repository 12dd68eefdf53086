/** The log's chain, re-computed from a page: what was pulled is what the server has, without a gap. */
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, hexToBytes, utf8ToBytes } from '@noble/hashes/utils.js';
import type { Pulled } from './pull';

export const ZERO_HASH = '0'.repeat(32);

/** h(p) from h(p-1), hex: SHA-256 over the one before, the receipt's id and both digests, 16 bytes. */
export function chain(before: string, text: string, receipt: string): string {
  const { id } = JSON.parse(receipt) as { id: string };
  const link = new Uint8Array([...hexToBytes(before), ...utf8ToBytes(id), ...sha256(utf8ToBytes(text)), ...sha256(utf8ToBytes(receipt))]);
  return bytesToHex(sha256(link).subarray(0, 16));
}

/** Whether rows follow one another from `from` on, and lead from one hash of the chain to the other. */
export function follows(rows: Pulled[], from: number, before: string, after: string): boolean {
  let h = before;
  for (const [i, [text, , receipt, , pos]] of rows.entries()) {
    if (pos !== from + i + 1) return false;
    h = chain(h, text, receipt);
  }
  return h === after;
}
