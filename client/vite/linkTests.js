// tests/client lies beside client/, so Node's look-up would not find client/node_modules from there.
// One link (git-ignored) serves vitest, tsc and editors alike.
import { existsSync, lstatSync, symlinkSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const client = dirname(dirname(fileURLToPath(import.meta.url)));
const tests = join(client, '..', 'tests', 'client');
const link = join(tests, 'node_modules');

if (existsSync(tests) && !lstatSync(link, { throwIfNoEntry: false })) {
  try {
    // A junction needs no special rights on Windows; elsewhere the type is ignored.
    symlinkSync(join(client, 'node_modules'), link, 'junction');
  } catch (error) {
    // vitest and tsc may start at the same moment: whoever comes second finds the link made.
    if (error.code !== 'EEXIST') throw error;
  }
}
