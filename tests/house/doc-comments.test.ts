import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { files, imports, ROOT, roomOf, webImports } from './imports.ts';

/** Rooms whose functions are to be read without their code. Those left out have all they do in one table of routes or jobs. */
const LEFT_OUT = ['server', 'jobs'];

/** Names that a file exports as functions, without a comment that ends on the line before. */
function silentFunctions(source: string): string[] {
  const lines = source.split('\n');
  return lines.flatMap((line, at) => {
    const name = /^export (?:async )?function\*? (\w+)/.exec(line)?.[1];
    return name === undefined || /\*\/\s*$/.test(lines[at - 1] ?? '') ? [] : [name];
  });
}

test('exported functions say what they do', () => {
  const silent = files
    .filter((path) => !LEFT_OUT.includes(roomOf(path)))
    .flatMap((path) =>
      silentFunctions(readFileSync(join(ROOT, path), 'utf8')).map((name) => `${path}: ${name}`),
    );
  expect(silent).toEqual([]);
});

test('a comment is seen, and so is the lack of one', () => {
  const source = ['/** Does a. */', 'export function a() {}', '', 'export async function b() {}'].join('\n');
  expect(silentFunctions(source)).toEqual(['b']);
});

test('no file is imported by none, but those that a process, a script or a thread begins with', () => {
  const imported = new Set([...imports, ...webImports].map(({ to }) => to));
  const begun = files
    .map((path) => readFileSync(join(ROOT, path), 'utf8'))
    .flatMap((source) => [...source.matchAll(/new URL\(['"`]\.\/([\w-]+)\./g)].map(([, name]) => name!));
  const alone = files.filter((path) => !imported.has(path));
  const entries = ['src/index.ts', 'src/cli/main.ts', 'src/cli/note-build.ts'];
  const isBegun = (path: string) => begun.some((name) => path.endsWith(`/${name}.ts`));
  expect(alone.filter((path) => !entries.includes(path) && !isBegun(path))).toEqual([]);
});
