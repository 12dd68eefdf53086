/** A sweep's sum: what was seen on a shelf held against what should stand there. Pure. */

export interface Expected {
  /** Labels that should stand here. */
  codes: readonly string[];
  /** Bags without labels that should: they cannot be seen, only counted by eye. */
  unlabelled: number;
}

export interface Tally {
  found: string[];
  missing: string[];
  /** Seen here though they stand elsewhere, as far as this phone knows. */
  stray: string[];
  /** Seen here though their life has ended, or nobody knows them. */
  odd: string[];
}

/** `state`: what a seen label is as far as this phone knows. Each label counts once however often it was seen. */
export function tally(seen: Iterable<string>, expected: Expected, state: (code: string) => 'lives' | 'ended' | 'unknown'): Tally {
  const here = new Set(expected.codes);
  const labels = [...new Set(seen)].filter((code) => code.startsWith('B') || code.startsWith('G'));
  const strays = labels.filter((code) => !here.has(code));
  return {
    found: labels.filter((code) => here.has(code)),
    missing: expected.codes.filter((code) => !labels.includes(code)),
    stray: strays.filter((code) => state(code) === 'lives'),
    odd: strays.filter((code) => state(code) !== 'lives'),
  };
}

/** Where in the picture a point lies: what a person is told while seeking. */
export function whereIn(x: number, y: number, width: number, height: number): 'left' | 'right' | 'up' | 'down' | 'middle' {
  const [dx, dy] = [x / width - 0.5, y / height - 0.5];
  if (Math.max(Math.abs(dx), Math.abs(dy)) < 0.16) return 'middle';
  if (Math.abs(dx) >= Math.abs(dy)) return dx < 0 ? 'left' : 'right';
  return dy < 0 ? 'up' : 'down';
}
