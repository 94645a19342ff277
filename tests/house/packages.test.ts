import { readFileSync } from 'node:fs';
import { builtinModules } from 'node:module';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { ROOT, sourceFiles } from './imports.ts';

/**
 * Packages of the page, the tests and the benches: what they import is named in package.json, and what is named there
 * for development is used. (What the program itself imports: tests/package/tarball.test.ts.)
 */

const read = (path: string) => readFileSync(join(ROOT, path), 'utf8');
const manifest = JSON.parse(read('package.json')) as {
  readonly name: string;
  readonly scripts: Readonly<Record<string, string>>;
  readonly dependencies: Readonly<Record<string, string>>;
  readonly devDependencies: Readonly<Record<string, string>>;
};
const named = [...Object.keys(manifest.dependencies), ...Object.keys(manifest.devDependencies)];

/** Packages that a file imports or resolves; modules of Node and files of our own are left out. */
function packagesIn(source: string): string[] {
  const pattern =
    /^(?:import|export|\})(?:[^'"`;]*?\bfrom)?\s*'([^']+)'|^\s*(?:const|return)\b[^'"`\n]*(?:import|\)\.resolve)\('([^']+)'\)/gm;
  return [...source.matchAll(pattern)]
    .map(([, atTop, within]) => (atTop ?? within)!)
    .filter((name) => /^[@a-z]/.test(name) && !name.startsWith('node:') && !builtinModules.includes(name))
    .map((name) => name.split('/', name.startsWith('@') ? 2 : 1).join('/'));
}

const imported = new Set(
  ['web', 'tests'].flatMap((folder) => sourceFiles(folder).flatMap((path) => packagesIn(read(path)))),
);

describe('packages of page and tests', () => {
  test('the parser sees every way to name one', () => {
    const source = [
      "import a from 'a';",
      "import type { B } from '@b/b/deep';",
      "import {\n  c,\n} from 'c/sync';",
      "export { d } from 'd';",
      "import 'e';",
      "  const path = createRequire(import.meta.url).resolve('f/f.js');",
      "  const { g } = await import('g');",
      "// import no from 'comment';",
      "import { join } from 'node:path';",
      "import { own } from './own.ts';",
    ].join('\n');
    expect(packagesIn(source)).toEqual(['a', '@b/b', 'c', 'd', 'e', 'f', 'g']);
  });

  test('what is imported is named, and did not just come along with another', () => {
    expect([...imported].filter((name) => !named.includes(name) && name !== manifest.name)).toEqual([]);
  });

  test('what is named for development is imported, run by a script, or the types of what is named', () => {
    const commands: Readonly<Record<string, string>> = { '@biomejs/biome': 'biome ', typescript: 'tsc ' };
    const scripts = Object.values(manifest.scripts).join('; ');
    const idle = Object.keys(manifest.devDependencies).filter((name) => {
      const typed = /^@types\/(.+)$/.exec(name)?.[1];
      if (typed !== undefined) return ![...named, 'node'].includes(typed);
      const command = commands[name];
      return command === undefined ? !imported.has(name) : !scripts.includes(command);
    });
    expect(idle).toEqual([]);
  });
});
