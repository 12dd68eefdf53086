/** Both themes hold WCAG 2.2 AA: text 4.5:1, edges of controls and marks 3:1, computed from the variables. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const css = readFileSync(new URL('../../../client/src/style/tokens.css', import.meta.url), 'utf8');

function variables(selector: string): Record<string, string> {
  const start = css.indexOf(`${selector} {`);
  const block = css.slice(start, css.indexOf('\n}', start));
  return Object.fromEntries([...block.matchAll(/--([a-z0-9-]+): (#[0-9a-f]{6});/g)].map((m) => [m[1] ?? '', m[2] ?? '']));
}

/** Relative luminance, WCAG 2.2. */
function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function ratio(a: string, b: string): number {
  const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p) as [number, number];
  return (x + 0.05) / (y + 0.05);
}

const light = variables(':root');
const themes = { light, dim: { ...light, ...variables(":root[data-theme='dim']") } };
const TEXT = [['ink', 'ground'], ['ink', 'sheet'], ['ink', 'sunk'], ['ink-2', 'ground'], ['ink-2', 'sheet'], ['ink-2', 'sunk'], ['act-ink', 'act'], ['ink', 'act-soft'], ['ink-2', 'act-soft'], ['ink', 'ok-soft'], ['ink', 'ask-soft'], ['ink', 'bad-soft'], ['ask', 'ask-soft'], ['bad', 'bad-soft'], ['bad', 'sheet'], ['bad', 'ground'], ['ask', 'ground'], ['sheet', 'ask']] as const;
const EDGES = [['edge', 'sheet'], ['edge', 'ground'], ['act', 'sheet'], ['ok', 'ok-soft'], ['focus', 'ground'], ['focus', 'sheet'], ['bag-line', 'sheet'], ['bag-line', 'bag-mix']] as const;

describe.each(Object.entries(themes))('%s theme', (_name, v) => {
  it.each(TEXT)('%s on %s reads as text', (a, b) => expect(ratio(v[a] ?? '', v[b] ?? '')).toBeGreaterThanOrEqual(4.5));
  it.each(EDGES)('%s on %s stands out', (a, b) => expect(ratio(v[a] ?? '', v[b] ?? '')).toBeGreaterThanOrEqual(3));
});

it('computes the standard’s own extreme', () => expect(ratio('#000000', '#ffffff')).toBeCloseTo(21));
