import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { readBytes } from './fuzz-mutations.ts';

const folder = fileURLToPath(new URL('../../fixtures/crashers/', import.meta.url));
const files = readdirSync(folder).filter((name) => !name.endsWith('.md'));

test.each(files)('%s brings nothing down any more', async (name) => {
  expect(await readBytes(new Uint8Array(readFileSync(folder + name)))).toMatch(/^(read|refused)$/);
});
