/**
 * Writes openapi/openapi.json from the contracts. With --check it writes nothing and fails when the file is not what it would write.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { allOperations, tags } from '../src/app.ts';
import { openApiDocument } from '../src/platform/openapi/document.ts';

const root = path.resolve(import.meta.dirname, '..');
const file = path.join(root, 'openapi/openapi.json');
const { version } = JSON.parse(readFileSync(path.join(root, 'package.json'), 'utf8')) as { version: string };
const text = `${JSON.stringify(openApiDocument(allOperations(), tags, version), null, 2)}\n`;

function readOrNull(): string | null {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return null; // Not written yet.
  }
}

if (!process.argv.includes('--check')) {
  mkdirSync(path.dirname(file), { recursive: true });
  writeFileSync(file, text);
  console.log(`${path.relative(root, file)} written`);
} else if (readOrNull() !== text) {
  console.error('openapi/openapi.json is not what the contracts say; run npm run -s openapi:write');
  process.exitCode = 1;
}
