// Folds logs with the client's own code: JSON lines in, one line of canonical JSON (or its SHA-256) out.
// Usage: node fold_runner.mjs   reads {"epochs", "sent": [[text, receipt, pos, role], ...], "full"}, or with
// "url" works on a real server with two phones, with "page": n pulls the log into a view n records at a time and says what differs from one fold of it.
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath, pathToFileURL } from 'node:url';

const client = fileURLToPath(new URL('../../client/', import.meta.url));
const ours = createRequire(join(client, 'package.json'));
const { build } = await import(pathToFileURL(ours.resolve('vite')).href);
ours('fake-indexeddb/auto');
const folder = mkdtempSync(join(tmpdir(), 'bagtrail-fold-'));
try {
  const made = await build({
    configFile: false, root: client, logLevel: 'error',
    build: { write: false, minify: false, target: 'node20', lib: { entry: ['src/contract.ts', 'src/contract-pull.ts', 'src/contract-server.ts'], formats: ['es'] } },
  });
  for (const { fileName, code } of (Array.isArray(made) ? made[0] : made).output) {
    writeFileSync(join(folder, fileName.replace(/\.js$/, '.mjs')), code.replaceAll(/((?:from ?|import\()["'`]\.\/[^"'`]+)\.js(["'`])/g, '$1.mjs$2'));
  }
  const { foldLog } = await import(pathToFileURL(join(folder, 'contract.mjs')).href);
  const { pullLog } = await import(pathToFileURL(join(folder, 'contract-pull.mjs')).href);
  const { workTogether } = await import(pathToFileURL(join(folder, 'contract-server.mjs')).href);
  console.log('ready');
  for await (const line of createInterface({ input: process.stdin })) {
    const job = JSON.parse(line);
    let text;
    try {
      text = job.url ? await workTogether(job) : job.page ? JSON.stringify(await pullLog(job)) : foldLog(job);
    } catch (error) {
      text = JSON.stringify({ raised: String(error?.stack ?? error) });
    }
    console.log(job.full || job.page || job.url ? text : createHash('sha256').update(text).digest('hex'));
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
