/**
 * A JPEG without what a camera or a browser writes about it: only JFIF, colour profile and Adobe's transform stay
 * (markers after ITU-T T.81, 1992, Annex B; the twin of server/bagtrail/jpeg.py, which refuses the rest).
 */
const KEPT_APPS = new Set([0xe0, 0xe2, 0xee]);

/** Returns the picture without Exif (position, time, camera), XMP and comments. Throws where it is no JPEG. */
export function withoutNotes(data: Uint8Array): Uint8Array<ArrayBuffer> {
  if (data[0] !== 0xff || data[1] !== 0xd8) throw new Error('not a JPEG');
  const kept: Uint8Array[] = [data.subarray(0, 2)];
  let at = 2;
  for (;;) {
    if (data[at] !== 0xff) throw new Error('a damaged JPEG');
    while (data[at + 1] === 0xff) at += 1;
    const marker = data[at + 1];
    if (marker === undefined) throw new Error('a JPEG that is cut off');
    // From the first scan on there is only the picture.
    if (marker === 0xda) break;
    const length = ((data[at + 2] ?? 0) << 8) | (data[at + 3] ?? 0);
    if (length < 2 || at + 2 + length > data.length) throw new Error('a JPEG that is cut off');
    const note = (marker >= 0xe0 && marker <= 0xef && !KEPT_APPS.has(marker)) || marker === 0xfe;
    if (!note) kept.push(data.subarray(at, at + 2 + length));
    at += 2 + length;
  }
  const end = lastEnd(data);
  kept.push(data.subarray(at, end));
  const whole = new Uint8Array(kept.reduce((n, piece) => n + piece.length, 0));
  let to = 0;
  for (const piece of kept) {
    whole.set(piece, to);
    to += piece.length;
  }
  return whole;
}

/** Just behind the end of the picture: some phones append a film or a second picture. */
function lastEnd(data: Uint8Array): number {
  for (let at = data.length - 2; at > 1; at -= 1) if (data[at] === 0xff && data[at + 1] === 0xd9) return at + 2;
  throw new Error('a JPEG that is cut off');
}
