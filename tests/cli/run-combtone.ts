import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, vi } from 'vitest';

// Starting a process takes a moment, and long ones on a shared machine.
vi.setConfig({ testTimeout: 30_000, hookTimeout: 60_000 });

/** The built command; `npm test` builds before it tests. */
export const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

export interface Ran {
  readonly code: number;
  readonly stdout: string;
  readonly stderr: string;
}

/** Runs the built command as a user would, in a process of its own. */
export function combtone(...args: readonly string[]): Promise<Ran> {
  return run(process.execPath, MAIN, ...args);
}

/** Runs any program to its end; −1 where it could not be started or was ended by a signal. */
export function run(program: string, ...args: readonly string[]): Promise<Ran> {
  return new Promise((resolve) => {
    execFile(program, args, { maxBuffer: 1 << 26 }, (error, stdout, stderr) => {
      const code = error === null ? 0 : typeof error.code === 'number' ? error.code : -1;
      resolve({ code, stdout, stderr });
    });
  });
}

/** Holds that a call was refused: exit 2, nothing on stdout, one line on stderr that reads as wanted. */
export function expectRefused({ code, stdout, stderr }: Ran, wanted: RegExp): void {
  expect(stderr).toMatch(wanted);
  expect(stderr).toMatch(/^combtone: [^\n]+\n$/);
  expect(stderr).not.toMatch(/\bat .*:\d+:\d+|node:internal/);
  expect(stdout).toBe('');
  expect(code).toBe(2);
}

/** A folder of its own for the tests of one file, removed after them. */
export function temporaryFolder(): (name: string) => string {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-cli-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));
  return (name) => join(folder, name);
}
