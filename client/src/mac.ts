/**
 * The keys that follow from a device's key, and the MACs made with them. Synchronous on purpose: awaiting
 * WebCrypto would end the IndexedDB transaction in which a record's text gets its number.
 *
 *   K (from pairing) -- "stream" + st --> stream key (MAC of a record)
 *                    -- "token"       --> bearer tag
 */
import { hmac } from '@noble/hashes/hmac.js';
import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, hexToBytes, utf8ToBytes } from '@noble/hashes/utils.js';

/** The key of one stream, so that a cloned phone can mint a new stream offline. `key` is K in hex. */
export function streamKey(key: string, st: string): Uint8Array {
  return hmac(sha256, hexToBytes(key), utf8ToBytes(`stream${st}`));
}

/** The 128-bit MAC of a text, hex. */
export function macOf(key: Uint8Array, text: string): string {
  return bytesToHex(hmac(sha256, key, utf8ToBytes(text)).subarray(0, 16));
}

/** The last part of the bearer token dev.gen.tag. */
export function bearerTag(key: string): string {
  return bytesToHex(hmac(sha256, hexToBytes(key), utf8ToBytes('token')));
}

/** What the MAC of "your key was taken back" covers. */
export function revokedText(farm: string, nonce: string): string {
  return `revoked.${farm}.${nonce}`;
}

/** What the MAC of a reset reply covers, so that no portal can forge one. */
export function resetText(farm: string, epoch: string, nonce: string): string {
  return `reset.${farm}.${epoch}.${nonce}`;
}
