// Makes the sums of the trade with the client's own code: one JSON job a line in, one JSON result a line out.
// Usage: node trade_runner.mjs   reads {"call", "args"} (see tests/client/trade/calls.ts)
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath, pathToFileURL } from 'node:url';

const client = fileURLToPath(new URL('../../client/', import.meta.url));
const calls = fileURLToPath(new URL('../client/trade/calls.ts', import.meta.url));
const { build } = await import(pathToFileURL(createRequire(join(client, 'package.json')).resolve('vite')).href);
const folder = mkdtempSync(join(tmpdir(), 'bagtrail-trade-'));
try {
  const made = await build({
    configFile: false, root: client, logLevel: 'error',
    build: { write: false, minify: false, target: 'node20', lib: { entry: calls, formats: ['es'], fileName: 'calls' } },
  });
  const [{ code }] = (Array.isArray(made) ? made[0] : made).output;
  writeFileSync(join(folder, 'calls.mjs'), code);
  const { call } = await import(pathToFileURL(join(folder, 'calls.mjs')).href);
  for await (const line of createInterface({ input: process.stdin })) {
    const { call: name, args } = JSON.parse(line);
    let result;
    try {
      result = call(name, args);
    } catch (error) {
      result = { raised: String(error?.stack ?? error) };
    }
    console.log(JSON.stringify(result ?? null));
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
