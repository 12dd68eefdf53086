/** Why a label that may be in view is not read: said to whoever holds the phone, so only what can be mended is told apart. */
import type { Finder } from './finders';
import type { Luma } from './luma';

/** dark: too little light; glare: a lamp in the picture; part: a label is seen and not read; blur: nothing is sharp. */
export type Trouble = 'dark' | 'glare' | 'part' | 'blur';

/** Grey values, 0 to 255; tried on drawn frames only. */
const DARK = 40;
const BURNT = 253;
const BURNT_SHARE = 0.1;
/** Between light and dark there is something to see; whether it is sharp shows in the steepest edges. */
const CONTRAST = 50;
const STEEP = 0.35;
/** Every so many pixels are looked at: a hint needs no more. */
const STRIDE = 3;

/** What ails a frame that gave no symbol, or null where nothing like a label is in it. */
export function troubleOf({ data, width, height }: Luma, finders: Finder[]): Trouble | null {
  const counts = new Uint32Array(256);
  const edges = new Uint32Array(256);
  let n = 0;
  for (let y = 0; y < height; y += STRIDE) {
    for (let x = 0; x + 2 < width; x += STRIDE) {
      const here = data[y * width + x] as number;
      const next = data[y * width + x + 2] as number;
      counts[here] = (counts[here] as number) + 1;
      const edge = here > next ? here - next : next - here;
      edges[edge] = (edges[edge] as number) + 1;
      n += 1;
    }
  }
  const dim = quantile(counts, n, 0.02);
  const bright = quantile(counts, n, 0.98);
  if (bright < DARK * 2 && quantile(counts, n, 0.5) < DARK) return 'dark';
  if (finders.length > 0) return 'part';
  let burnt = 0;
  for (let grey = BURNT; grey < 256; grey += 1) burnt += counts[grey] as number;
  if (burnt > n * BURNT_SHARE) return 'glare';
  const contrast = bright - dim;
  return contrast >= CONTRAST && quantile(edges, n, 0.995) < contrast * STEEP ? 'blur' : null;
}

/** The value below which so great a share of the counted ones lies. */
function quantile(counts: Uint32Array, n: number, share: number): number {
  let left = n * share;
  for (let value = 0; value < 256; value += 1) {
    left -= counts[value] as number;
    if (left <= 0) return value;
  }
  return 255;
}
