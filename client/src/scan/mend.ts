/**
 * A label of ours with one finder under dirt, tape or a drop: the two others say where the third must
 * be, so it is drawn there anew. No level of correction helps a finder, and three of them are 31 % of
 * our symbol. A wrong guess is read by nobody: correction, check symbol and farm tag stand behind it.
 */
import type { Finder } from './finders';
import type { Luma } from './luma';

/** Modules from finder to finder along a side: 25 modules of version 2 less the 7 of a finder. */
const SIDE = 18;
/** How far a distance may be off, as a share of it: a label lies on a bag, and is seen from the side. */
const SLACK = 0.2;
/** A finder is 7 modules wide, with a light one around it. */
const RINGS = [1.5, 2.5, 3.5, 4.5];
/** Guesses at a frame: each costs one decoding. */
export const MOST_GUESSES = 8;

/** Where a finder may be missing, and the directions of the symbol's sides there (px a module). */
export interface Guess {
  x: number;
  y: number;
  along: { x: number; y: number };
  like: Finder;
}

/** The places where a third finder would make one of our symbols of two that were found. */
export function missingFinders(finders: Finder[]): Guess[] {
  const guesses: Guess[] = [];
  const taken = (x: number, y: number, near: number): boolean =>
    finders.some((one) => Math.hypot(one.x - x, one.y - y) < near);
  finders.forEach((p, i) => {
    for (const q of finders.slice(i + 1)) {
      const module = (p.module + q.module) / 2;
      if (Math.abs(p.module - q.module) > module * SLACK * 2) continue;
      const dx = q.x - p.x;
      const dy = q.y - p.y;
      const apart = Math.hypot(dx, dy) / module;
      let places: Array<{ x: number; y: number }> = [];
      let along = { x: dx / SIDE, y: dy / SIDE };
      if (Math.abs(apart - SIDE) <= SIDE * SLACK) {
        // A side: the third is at either end of it, on either hand.
        places = [p, q].flatMap(({ x, y }) => [{ x: x - dy, y: y + dx }, { x: x + dy, y: y - dx }]);
      } else if (Math.abs(apart - SIDE * Math.SQRT2) <= SIDE * SLACK) {
        // The diagonal: the third is the corner between them, on either hand.
        const [x, y] = [(p.x + q.x) / 2, (p.y + q.y) / 2];
        places = [{ x: x - dy / 2, y: y + dx / 2 }, { x: x + dy / 2, y: y - dx / 2 }];
        along = { x: (dx - dy) / 2 / SIDE, y: (dx + dy) / 2 / SIDE };
      }
      // Three finders that fit: whatever ails that symbol, it is no finder.
      if (places.some(({ x, y }) => taken(x, y, 3 * module))) continue;
      guesses.push(...places.map((place) => ({ ...place, along, like: p })));
    }
  });
  return guesses.slice(0, MOST_GUESSES);
}

/** The picture with a finder drawn at a guess, as dark and as light as the one it is like. */
export function withFinder(luma: Luma, { x, y, along, like }: Guess): Luma {
  const { width, height } = luma;
  const data = luma.data.slice();
  const { dark, light } = tones(luma, like);
  const module2 = along.x ** 2 + along.y ** 2;
  const reach = Math.ceil(Math.sqrt(module2) * 4.5 * Math.SQRT2);
  for (let row = Math.max(0, Math.floor(y - reach)); row <= Math.min(height - 1, y + reach); row += 1) {
    for (let column = Math.max(0, Math.floor(x - reach)); column <= Math.min(width - 1, x + reach); column += 1) {
      const dx = column + 0.5 - x;
      const dy = row + 0.5 - y;
      // In modules, along the symbol's own sides.
      const a = Math.abs(dx * along.x + dy * along.y) / module2;
      const b = Math.abs(dx * -along.y + dy * along.x) / module2;
      const ring = RINGS.findIndex((edge) => Math.max(a, b) <= edge);
      if (ring >= 0) data[row * width + column] = ring % 2 === 0 ? dark : light;
    }
  }
  return { data, width, height };
}

/** The middle of a finder is dark; the darkest and lightest of its surroundings are what it is made of. */
function tones({ data, width, height }: Luma, { x, y, module }: Finder): { dark: number; light: number } {
  const dark = data[Math.min(height - 1, Math.round(y)) * width + Math.min(width - 1, Math.round(x))] as number;
  let light = dark;
  const reach = Math.round(module * 4);
  for (let step = -reach; step <= reach; step += 1) {
    const column = Math.min(width - 1, Math.max(0, Math.round(x) + step));
    light = Math.max(light, data[Math.min(height - 1, Math.round(y)) * width + column] as number);
  }
  return { dark, light };
}
