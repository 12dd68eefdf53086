/** Chance: ids of records, streams and nonces. */
const hexOf = (bytes: Uint8Array): string => Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');

export function randomHex(digits: number): string {
  return hexOf(crypto.getRandomValues(new Uint8Array(digits / 2)));
}

/** A UUID of version 7 (RFC 9562 section 5.7); its time is never trusted for order. */
export function newId(ms: number): string {
  const hex = Math.max(0, ms).toString(16).padStart(12, '0').slice(-12) + randomHex(20);
  const variant = '89ab'[parseInt(hex[16] as string, 16) & 3] as string;
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-7${hex.slice(13, 16)}-${variant}${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}
