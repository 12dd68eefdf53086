import { createHash } from 'node:crypto';
import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join, relative, resolve, sep } from 'node:path';
import { build, type Plugin, type ResolvedConfig } from 'vite';
import { compressFolder } from './compress.ts';
import { licences } from './licences.ts';
import { collectModules } from './modules.ts';

/** Files the app does not need to start with no network. */
const NOT_SHELL = /(^sw\.js|\.map|licences\.txt)$/;

/**
 * After the page is built: the service worker /sw.js, which knows every file of the shell and one
 * version made from their contents; /licences.txt; and the compressed copies.
 *
 * The worker is a build of its own because it must be one classic script at a fixed address: a
 * chunk shared with the page would make it a module, which not every browser starts.
 */
export function shell(modules: Set<string>): Plugin {
  let config: ResolvedConfig;
  return {
    name: 'bagtrail:shell',
    apply: 'build',
    configResolved(resolved) {
      config = resolved;
    },
    async closeBundle(error?: Error) {
      if (error) return;
      const out = resolve(config.root, config.build.outDir);
      await buildServiceWorker(config, out, modules);
      writeFileSync(join(out, 'licences.txt'), `${licences(modules, config.root)}\n`);
      await compressFolder(out);
    },
  };
}

async function buildServiceWorker(
  config: ResolvedConfig,
  out: string,
  modules: Set<string>,
): Promise<void> {
  const files = shellFiles(out);
  await build({
    configFile: false,
    root: config.root,
    logLevel: config.logLevel,
    publicDir: false,
    plugins: [collectModules(modules)],
    define: {
      ...config.define,
      __SHELL_FILES__: JSON.stringify(files.map(address)),
      __SHELL_VERSION__: JSON.stringify(versionOf(out, files)),
    },
    build: {
      outDir: out,
      emptyOutDir: false,
      target: config.build.target,
      minify: config.build.minify,
      reportCompressedSize: false,
      rolldownOptions: {
        input: join(config.root, 'src', 'sw.ts'),
        output: { format: 'iife', entryFileNames: 'sw.js' },
      },
    },
  });
}

function shellFiles(out: string): string[] {
  return readdirSync(out, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => relative(out, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .filter((file) => !NOT_SHELL.test(file))
    .sort();
}

/** The page is cached under the address a browser asks for. */
const address = (file: string): string => (file === 'index.html' ? '/' : `/${file}`);

function versionOf(out: string, files: string[]): string {
  const hash = createHash('sha256');
  for (const file of files) hash.update(`${file}\0`).update(readFileSync(join(out, file)));
  return hash.digest('hex').slice(0, 12);
}
