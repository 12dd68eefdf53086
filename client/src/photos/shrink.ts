/** A camera's picture made small enough to send over a farm's network: 1,600 px the long way, no notes in it. */
import { withoutNotes } from './plain';

export const LONG_PX = 1_600;
/** What the farm's computer takes (bytes). */
export const MOST_BYTES = 2 << 20;
const QUALITIES = [0.82, 0.65, 0.45];

/** Width and height fitted into `LONG_PX`; never made larger. */
export function fitted(width: number, height: number, long = LONG_PX): [number, number] {
  const share = Math.min(1, long / Math.max(width, height));
  return [Math.max(1, Math.round(width * share)), Math.max(1, Math.round(height * share))];
}

/** Drawn anew, so that nothing but the pixels comes along. Throws where the browser cannot read the picture. */
export async function shrink(file: Blob): Promise<Uint8Array<ArrayBuffer>> {
  const bitmap = await createImageBitmap(file, { imageOrientation: 'from-image' });
  try {
    const [width, height] = fitted(bitmap.width, bitmap.height);
    const canvas = document.createElement('canvas');
    canvas.width = width;
    canvas.height = height;
    const draw = canvas.getContext('2d');
    if (!draw) throw new Error('no canvas');
    draw.drawImage(bitmap, 0, 0, width, height);
    for (const quality of QUALITIES) {
      const blob = await new Promise<Blob | null>((done) => { canvas.toBlob(done, 'image/jpeg', quality); });
      if (!blob) throw new Error('no JPEG was made');
      // Safari writes Exif of its own into what it makes.
      const bytes = withoutNotes(new Uint8Array(await blob.arrayBuffer()));
      if (bytes.length <= MOST_BYTES) return bytes;
    }
    throw new Error('too large');
  } finally {
    bitmap.close();
  }
}
