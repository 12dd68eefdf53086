import { readFile, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { brotliCompress, constants, gzip } from 'node:zlib';

const TEXTLIKE = /\.(js|css|html|svg|json|txt|wasm|webmanifest)$/;

/** Writes FILE.br and FILE.gz beside every file that shrinks: the server hands them out as they are. */
export async function compressFolder(folder: string): Promise<void> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  const files = entries.filter((entry) => entry.isFile() && TEXTLIKE.test(entry.name));
  await Promise.all(files.map((entry) => compressFile(join(entry.parentPath, entry.name))));
}

async function compressFile(path: string): Promise<void> {
  const bytes = await readFile(path);
  const params = { [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length };
  const [br, gz] = await Promise.all([
    promisify(brotliCompress)(bytes, { params }),
    promisify(gzip)(bytes, { level: 9 }),
  ]);
  // Below this the header that names the encoding eats the gain.
  const worthIt = (packed: Buffer): boolean => packed.length < bytes.length - 64;
  if (worthIt(br)) await writeFile(`${path}.br`, br);
  if (worthIt(gz)) await writeFile(`${path}.gz`, gz);
}
