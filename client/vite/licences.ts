import { readFileSync, readdirSync } from 'node:fs';
import { join, resolve } from 'node:path';

interface Manifest {
  name?: string;
  version?: string;
  license?: string;
}

/**
 * What a package's file carries besides the package: zxing-wasm's binary is zxing-cpp compiled,
 * and the package ships only its own licence. The text of the Apache licence is taken from a
 * package of the tool chain that ships it unchanged.
 */
const INSIDE: Record<string, { name: string; licence: string; textFrom: string }> = {
  'zxing-wasm': {
    name: 'zxing-cpp (compiled into zxing_reader.wasm)',
    licence: 'Apache-2.0',
    textFrom: 'typescript/LICENSE',
  },
};

/** The text of /licences.txt: each third-party package with a file among `modules`, sorted by name. */
export function licences(modules: Iterable<string>, client: string): string {
  const roots = new Set<string>();
  for (const id of modules) {
    const root = packageRoot(resolve(client, id.replace(/^\0/, '').replace(/\?.*$/, '')));
    if (root) roots.add(root);
  }
  const sections = [...roots].map((root) => section(root, client)).sort();
  return ['Bagtrail contains the following third-party works.', ...sections].join('\n\n');
}

/** The folder right below the innermost node_modules, with its scope if it has one. */
function packageRoot(file: string): string | undefined {
  return /^.*[\\/]node_modules[\\/](?:@[^\\/]+[\\/])?[^\\/]+/.exec(file)?.[0];
}

function manifest(root: string): Manifest {
  return JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as Manifest;
}

function section(root: string, client: string): string {
  const { name = '', version, license } = manifest(root);
  const file = readdirSync(root).find((entry) => /^licen[cs]e/i.test(entry));
  if (!file) throw new Error(`${name} ${version} ships no licence text: name its source in licences.ts`);
  let text = `${heading(`${name} ${version} (${license})`)}\n${read(join(root, file))}`;
  const inside = INSIDE[name];
  if (inside) {
    const source = join(client, 'node_modules', inside.textFrom);
    text += `\n\n${heading(`${inside.name} (${inside.licence})`)}\n${read(source)}`;
  }
  return text;
}

const heading = (title: string): string => `${title}\n${'='.repeat(title.length)}`;
const read = (file: string): string => readFileSync(file, 'utf8').replace(/\r\n/g, '\n').trim();
