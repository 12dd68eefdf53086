import type { Plugin } from 'vite';

/**
 * Remembers the file of every module that ends up in a bundle: page, workers and service worker
 * are three separate builds, and each gets its own instance filling the same set.
 */
export function collectModules(into: Set<string>): Plugin {
  return {
    name: 'bagtrail:modules',
    generateBundle(_options, bundle) {
      for (const output of Object.values(bundle)) {
        if (output.type === 'chunk') output.moduleIds.forEach((id) => into.add(id));
        else output.originalFileNames.forEach((name) => into.add(name));
      }
    },
  };
}
