/** Serves the look page: `npx vite --config ../tests/client/ui/look/vite.config.ts` from client/. */
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  define: { __APP_VERSION__: '"look"' },
  server: { fs: { strict: false } },
});
