import { defineConfig, mergeConfig } from 'vitest/config';
import vite from './vite.config.ts';
import './vite/linkTests.js';

const long = process.env['BAGTRAIL_LONG'] === '1';

export default mergeConfig(
  vite,
  defineConfig({
    server: { fs: { allow: ['..'] } },
    test: {
      dir: '../tests/client',
      include: ['**/*.test.{ts,tsx}'],
      // Vectors and random logs are read from fixtures/; the full counts take minutes.
      testTimeout: long ? 1_200_000 : 60_000,
      // Two cores are shared with the rest of tests/run.
      maxWorkers: 2,
    },
  }),
);
