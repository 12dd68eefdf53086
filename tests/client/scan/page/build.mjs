// node build.mjs OUT VERSION: builds the page and the client's own service worker for it into OUT.
import { readdirSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

// Makes the link that lets files outside client/ find its packages; only then can vite be imported.
await import('../../../../client/vite/linkTests.js');
const { build } = await import('vite');

const root = dirname(fileURLToPath(import.meta.url));
const client = resolve(root, '../../../../client');
const [outDir, version] = process.argv.slice(2);
const define = { __APP_VERSION__: JSON.stringify(version) };
const common = { configFile: false, logLevel: 'warn', publicDir: false };
const oxc = { jsx: { runtime: 'automatic', importSource: 'preact' } };
const target = ['chrome100', 'safari16', 'firefox115'];

await build({
  ...common,
  root,
  define,
  oxc,
  worker: { format: 'es' },
  build: { outDir, emptyOutDir: true, target, assetsInlineLimit: 0, modulePreload: { polyfill: false } },
});

const files = readdirSync(outDir, { recursive: true, withFileTypes: true })
  .filter((entry) => entry.isFile())
  .map((entry) => `/${relative(outDir, join(entry.parentPath, entry.name))}`.replace('/index.html', '/'));
await build({
  ...common,
  root: client,
  define: { ...define, __SHELL_FILES__: JSON.stringify(files), __SHELL_VERSION__: JSON.stringify(version) },
  build: {
    outDir,
    emptyOutDir: false,
    target,
    rolldownOptions: { input: join(client, 'src/sw.ts'), output: { format: 'iife', entryFileNames: 'sw.js' } },
  },
});
