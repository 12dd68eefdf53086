import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';
import { slimCatalogue } from './vite/catalogue.ts';
import { collectModules } from './vite/modules.ts';
import { shell } from './vite/shell.ts';

const root = fileURLToPath(new URL('.', import.meta.url));

/** One place names the version for both halves: pyproject.toml. */
const version = /^version = "(.+)"$/m.exec(
  readFileSync(new URL('../pyproject.toml', import.meta.url), 'utf8'),
)?.[1];
if (!version) throw new Error('pyproject.toml names no version');

const modules = new Set<string>();

export default defineConfig({
  root,
  define: { __APP_VERSION__: JSON.stringify(version) },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [slimCatalogue(), collectModules(modules), shell(modules)],
  worker: { format: 'es', plugins: () => [collectModules(modules)] },
  build: {
    // The oldest phones we mean to carry: VideoFrame and module workers have fallbacks or are there.
    target: ['chrome100', 'safari16', 'firefox115'],
    // The page names ahead what it starts with; later chunks come from the worker's store.
    modulePreload: { polyfill: false, resolveDependencies: (_file, needs, { hostType }) => (hostType === 'html' ? needs : []) },
    // An inlined file would need data: in the page's content security policy.
    assetsInlineLimit: 0,
    reportCompressedSize: false,
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8765' } },
});
