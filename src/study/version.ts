import { readFileSync } from 'node:fs';

/** Version of this program, written into what it makes. */
export const combtoneVersion: string = (
  JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as { version: string }
).version;
