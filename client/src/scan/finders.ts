/**
 * The finder patterns of QR symbols in a grey picture, also of symbols that cannot be read. A finder is
 * a square of 7 modules whose lines through the middle run dark, light, dark, light, dark as 1:1:3:1:1
 * (ISO/IEC 18004, 6.3.3), whatever its angle.
 */
import type { Luma } from './luma';

export interface Finder {
  /** Middle, px. */
  x: number;
  y: number;
  /** Mean width of a module, px. */
  module: number;
}

/** A pixel is dark when it is below this share of the mean of what lies around it. */
const DARK = 0.92;
/** Half the width of that neighbourhood, as a share of the picture's height. */
const AROUND = 1 / 10;
/** How far a run may be from its share, in modules; blur and tilt take their part. */
const SLACK = 0.6;
/** Lines that must agree before a place counts as a finder. */
const AGREE = 3;

/** Dark pixels are 1. Light from one side does no harm: each pixel is held against its neighbourhood. */
export function darkPixels({ data, width, height }: Luma): Uint8Array {
  const wide = width + 1;
  const sums = new Float64Array(wide * (height + 1));
  for (let y = 0; y < height; y += 1) {
    let row = 0;
    for (let x = 0; x < width; x += 1) {
      row += data[y * width + x] as number;
      sums[(y + 1) * wide + x + 1] = (sums[y * wide + x + 1] as number) + row;
    }
  }
  const dark = new Uint8Array(width * height);
  const reach = Math.max(8, Math.round(height * AROUND));
  for (let y = 0; y < height; y += 1) {
    const top = Math.max(0, y - reach) * wide;
    const bottom = Math.min(height, y + reach + 1) * wide;
    const rows = (bottom - top) / wide;
    for (let x = 0; x < width; x += 1) {
      const left = Math.max(0, x - reach);
      const right = Math.min(width, x + reach + 1);
      const sum = (sums[bottom + right] as number) - (sums[top + right] as number)
        - (sums[bottom + left] as number) + (sums[top + left] as number);
      if ((data[y * width + x] as number) * rows * (right - left) < sum * DARK) dark[y * width + x] = 1;
    }
  }
  return dark;
}

/** All finders of a picture, those that most lines agree upon first. */
export function findFinders(luma: Luma): Finder[] {
  const dark = darkPixels(luma);
  const { width, height } = luma;
  const found: Array<Finder & { n: number }> = [];
  const runs = new Int32Array(5);
  for (let y = 0; y < height; y += 1) {
    runs.fill(0);
    let was = 0;
    let length = 0;
    for (let x = 0; x <= width; x += 1) {
      const is = x < width ? (dark[y * width + x] as number) : 1 - was;
      if (is === was) {
        length += 1;
        continue;
      }
      runs.copyWithin(0, 1);
      runs[4] = length;
      if (was === 1 && fits(runs)) {
        const across = total(runs);
        const middle = x - (runs[4] as number) - (runs[3] as number) - (runs[2] as number) / 2;
        const down = column(dark, width, height, Math.floor(middle), y);
        // Turned by 45 degrees both lines are longer by the same, and tilt makes one of them shorter.
        if (down && across < down.across * 2 && down.across < across * 2) {
          enter(found, middle, down.middle, (across + down.across) / 14);
        }
      }
      was = is;
      length = 1;
    }
  }
  return found.filter(({ n }) => n >= AGREE).sort((a, b) => b.n - a.n);
}

/** Whether five runs, dark first, are to each other as 1:1:3:1:1. */
function fits(runs: Int32Array): boolean {
  const module = total(runs) / 7;
  if (module < 1) return false;
  const slack = module * SLACK;
  for (let i = 0; i < 5; i += 1) {
    const share = i === 2 ? 3 : 1;
    if (Math.abs((runs[i] as number) - share * module) > slack * (i === 2 ? 2 : 1)) return false;
  }
  return true;
}

function total(runs: Int32Array): number {
  let sum = 0;
  for (let i = 0; i < 5; i += 1) sum += runs[i] as number;
  return sum;
}

/** The five runs of the column through a pixel of the middle square, if they fit. */
function column(
  dark: Uint8Array, width: number, height: number, x: number, y: number,
): { middle: number; across: number } | null {
  const at = (row: number): number => dark[row * width + x] as number;
  if (at(y) === 0) return null;
  const runs = new Int32Array(5);
  const walk = (step: 1 | -1): number => {
    let row = y;
    for (let i = 0; i < 3; i += 1) {
      const want = i === 1 ? 0 : 1;
      const slot = 2 + step * i;
      while (row >= 0 && row < height && at(row) === want) {
        // The pixel itself is counted on the way up only.
        if (!(step === 1 && row === y)) runs[slot] = (runs[slot] as number) + 1;
        row += step;
      }
    }
    return row;
  };
  const top = walk(-1) + 1;
  walk(1);
  if (!fits(runs)) return null;
  const middle = top + (runs[0] as number) + (runs[1] as number) + (runs[2] as number) / 2;
  return { middle, across: total(runs) };
}

function enter(found: Array<Finder & { n: number }>, x: number, y: number, module: number): void {
  const same = found.find((one) => Math.hypot(one.x - x, one.y - y) < 2 * one.module);
  if (!same) {
    found.push({ x, y, module, n: 1 });
    return;
  }
  same.n += 1;
  same.x += (x - same.x) / same.n;
  same.y += (y - same.y) / same.n;
  same.module += (module - same.module) / same.n;
}
