// Folds logs with the client's own code: JSON lines in, one line of canonical JSON (or its SHA-256) out.
// Usage: node fold_runner.mjs   reads {"epochs", "sent": [[text, receipt, pos, role], ...], "full"}
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath, pathToFileURL } from 'node:url';

const client = fileURLToPath(new URL('../../client/', import.meta.url));
const { build } = await import(pathToFileURL(createRequire(join(client, 'package.json')).resolve('vite')).href);
const folder = mkdtempSync(join(tmpdir(), 'bagtrail-fold-'));
try {
  const made = await build({
    configFile: false, root: client, logLevel: 'error',
    build: { write: false, minify: false, target: 'node20', lib: { entry: 'src/contract.ts', formats: ['es'] } },
  });
  const file = join(folder, 'fold.mjs');
  writeFileSync(file, (Array.isArray(made) ? made[0] : made).output[0].code);
  const { foldLog } = await import(pathToFileURL(file).href);
  console.log('ready');
  for await (const line of createInterface({ input: process.stdin })) {
    const job = JSON.parse(line);
    let text;
    try {
      text = foldLog(job);
    } catch (error) {
      text = JSON.stringify({ raised: String(error?.stack ?? error) });
    }
    console.log(job.full ? text : createHash('sha256').update(text).digest('hex'));
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
