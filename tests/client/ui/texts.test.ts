/** The texts that come with the first screen: all it may say, and nothing that only later screens say. */
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import first from '../../../client/src/i18n/en-GB.json';
import rest from '../../../client/src/i18n/en-GB.rest.json';
import { KINDS } from '../../../client/src/catalogue';

const SRC = fileURLToPath(new URL('../../../client/src/', import.meta.url));
const FIRST: Record<string, string> = first;
const REST: Record<string, string> = rest;
const IMPORT = /^(?:import|export)\s(?!type\b)[^;]*?from '(\.[^']+)'|^import '(\.[^']+)'/gm;

/** The sources that a module brings with it: everything but what it fetches later. */
function broughtBy(entry: string): Map<string, string> {
  const found = new Map<string, string>();
  const todo = [join(SRC, entry)];
  for (let at = todo.pop(); at !== undefined; at = todo.pop()) {
    if (found.has(at)) continue;
    const text = readFileSync(at, 'utf8');
    found.set(at, text);
    if (!/\.tsx?$/.test(at)) continue;
    for (const [, from, bare] of text.matchAll(IMPORT)) {
      const base = join(dirname(at), (from ?? bare) as string);
      const file = [`${base}.ts`, `${base}.tsx`, join(base, 'index.ts'), base].find(existsSync);
      if (!file) throw new Error(`${at} imports ${base}, which is not there`);
      todo.push(file);
    }
  }
  return found;
}

const sources = [...broughtBy('main.tsx')].filter(([name]) => /\.tsx?$/.test(name));
const written = new Set(sources.flatMap(([, text]) => [...text.matchAll(/'([a-z_]+(?:\.[A-Za-z0-9_.-]+)*)'/g)].map((m) => m[1] as string)));
/** Ids put together at run time: `stage.${...}`. Those of i18n/index.ts are for whoever asks. */
const begun = new Set(sources.filter(([name]) => !name.endsWith(join('i18n', 'index.ts')))
  .flatMap(([, text]) => [...text.matchAll(/`([a-z_]+\.[a-z_.]*)\$\{/g)].map((m) => m[1] as string)));

/** Put together on the first screen, but met only on those that come later. */
const LATER = /^(scan\.hint\.(dark|glare|part|blur)|link\.[a-z_]+\.todo|error\.(bad_label|pairing_refused|too_many_tries|not_allowed|bad_code|too_long|revoked)(\.todo)?)$/;

/** Home counts the day's work by kind; any other kind is named by who wrote it, and no first screen writes. */
const home = sources.find(([name]) => name.endsWith('Home.tsx'))?.[1] ?? '';
const worked = new Set(['kind.unknown', ...[...KINDS.keys()].filter((kind) => home.includes(`'${kind}'`)).map((kind) => `kind.${kind.replace('.', '_')}.title`)]);

const said = (id: string): boolean =>
  (written.has(id) && !KINDS.has(id)) || worked.has(id) || [...begun].some((start) => id.startsWith(start) && !LATER.test(id));

describe('the first screen', () => {
  it('is looked through', () => {
    expect(sources.length).toBeGreaterThan(50);
    expect([...begun]).toEqual(expect.arrayContaining(['stage.', 'error.', 'link.', 'type.', 'screen.']));
    expect(written).toContain('home.scan');
    expect(written).not.toContain('harvest.more');
    expect(worked.size).toBeGreaterThan(8);
  });

  it('has every text it may say', () => expect(Object.keys(REST).filter(said)).toEqual([]));

  it('does not wait for texts that only later screens say', () => expect(Object.keys(FIRST).filter((id) => !said(id))).toEqual([]));

  it('shares no id with the rest', () => expect(Object.keys(FIRST).filter((id) => id in REST)).toEqual([]));
});

it.each(['screens/round.tsx', 'screens/desk.tsx', 'screens/floor.tsx'])('%s brings the rest of the texts', (name) => {
  expect(broughtBy(name).has(join(SRC, 'i18n', 'en-GB.rest.json'))).toBe(true);
});
