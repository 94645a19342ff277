import { execFile } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { builtinModules } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { install, type Packed, pack, productionDependencies, ROOT } from './packed.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let folder = '';
let packed: Packed;
let installed = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-package-'));
  packed = await pack(folder);
  installed = await install(join(folder, packed.filename), folder);
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Source that a compiled file was made of; compiled files of sources since removed wait for the next clean build. */
const sourceOf = (path: string) => path.replace(/^dist\//, 'src/').replace(/(\.d)?\.(ts|js)$/, '.ts');
const isStale = (path: string) => /^dist\/.*\.(ts|js)$/.test(path) && !existsSync(join(ROOT, sourceOf(path)));

/** Modules that a compiled file imports by name, not by path. */
function modulesIn(code: string): string[] {
  const bare = code.replaceAll(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, '');
  const pattern =
    /(?:\bfrom|\bimport|\bimport\(|\brequire\(|\bresolve\()\s*['"]((?:@[\w.-]+\/)?\w[\w./:-]*)['"]/g;
  return [...bare.matchAll(pattern)].map(([, name]) => name!);
}
const packageOf = (name: string) =>
  name
    .split('/')
    .slice(0, name.startsWith('@') ? 2 : 1)
    .join('/');

describe('what is packed', () => {
  test('holds what was built, the page, the documents, and nothing else', () => {
    const top = new Set(packed.files.map(({ path }) => path.split('/')[0]));
    expect([...top].sort()).toEqual(['LICENSE', 'README.md', 'dist', 'dist-web', 'docs', 'package.json']);
    const odd = packed.files.filter(
      ({ path }) => path.startsWith('dist/') && !/(\.d\.ts|\.js|^dist\/build\.json)$/.test(path),
    );
    expect(odd.map(({ path }) => path)).toEqual([]);
    const unwanted = packed.files.filter(({ path }) => /test|fixture|\.map$|\.tsx$|\.wav$/.test(path));
    expect(unwanted.map(({ path }) => path)).toEqual([]);
  });

  test('holds every compiled module, and the declarations that the face leads to', () => {
    const paths = new Set(packed.files.map(({ path }) => path));
    const sources = readdirSync(join(ROOT, 'src'), { recursive: true, encoding: 'utf8' })
      .map((path) => path.replaceAll('\\', '/'))
      .filter((path) => path.endsWith('.ts') && !path.endsWith('.d.ts'));
    const missing = sources
      .map((path) => `dist/${path.replace(/ts$/, 'js')}`)
      .filter((path) => !paths.has(path));
    expect(missing).toEqual([]);
    const seen = new Set<string>();
    const follow = (path: string): void => {
      if (seen.has(path)) return;
      seen.add(path);
      for (const [, target] of readFileSync(join(ROOT, path), 'utf8').matchAll(/from '(\.[^']*)\.[tj]s'/g)) {
        follow(join(dirname(path), `${target}.d.ts`).replaceAll('\\', '/'));
      }
    };
    follow('dist/index.d.ts');
    expect(seen.size).toBeGreaterThan(20);
    expect([...seen].filter((path) => !paths.has(path))).toEqual([]);
  });

  test('is small: at most 2.6 MB to fetch and 8 MB on disk', () => {
    expect(packed.size).toBeLessThan(2_600_000);
    expect(packed.unpackedSize).toBeLessThan(8_000_000);
  });

  test('imports nothing that is not needed to run by package.json, and needs nothing that is not imported', async () => {
    const needed = await productionDependencies();
    const imported = new Map<string, string>();
    for (const { path } of packed.files) {
      if (!path.startsWith('dist/') || !/\.(js|d\.ts)$/.test(path) || isStale(path)) continue;
      for (const name of modulesIn(readFileSync(join(ROOT, path), 'utf8'))) {
        if (!name.startsWith('node:') && !builtinModules.includes(name)) imported.set(packageOf(name), path);
      }
    }
    const unnamed = [...imported].filter(([name]) => !needed.includes(name));
    expect(unnamed).toEqual([]);
    expect(needed.filter((name) => !imported.has(name))).toEqual([]);
  });

  test('a module imported in any way is seen', () => {
    const code = `import a from 'a-b'; import 'c'; export { d } from "@d/e/f"; await import('g'); require('h');
      // import i from 'i';
      import j from './j.js';`;
    expect(modulesIn(code).map(packageOf)).toEqual(['a-b', 'c', '@d/e', 'g', 'h']);
  });
});

/** Runs the installed command in the folder that holds nothing but the installation. */
function combtone(...words: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  const main = join(installed, 'dist/cli/main.js');
  return new Promise((resolve) => {
    execFile(process.execPath, [main, ...words], { cwd: folder }, (error, stdout, stderr) => {
      resolve({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

describe('installed in an empty folder, without what only development needs', () => {
  test('tells its version, simulates a recording, finds runs in it, and explains the review page', async () => {
    const { version } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as { version: string };
    expect(await combtone('--version')).toEqual({ code: 0, stdout: `${version}\n`, stderr: '' });
    expect(await combtone('simulate', '--out', 'made', '--minutes', '0.5', '--snr', '12')).toMatchObject({
      code: 0,
    });
    const recording = readdirSync(join(folder, 'made')).find((name) => name.endsWith('.wav'))!;
    const found = await combtone('detect', join('made', recording), '--json');
    expect(found.code).toBe(0);
    expect(found.stdout).toContain('"train_id"');
    const help = await combtone('review', '--help');
    expect(help.code).toBe(0);
    expect(help.stdout).toContain('$ combtone review');
    expect(existsSync(join(installed, 'dist-web/index.html'))).toBe(true);
  });

  test('is imported by a script beside it', async () => {
    const script = `import { combtoneVersion, detect } from 'combtone'; console.log(typeof detect, combtoneVersion);`;
    await writeFile(join(folder, 'script.mjs'), script);
    const printed = await new Promise<string>((resolve, reject) => {
      execFile(process.execPath, ['script.mjs'], { cwd: folder }, (error, stdout) =>
        error === null ? resolve(stdout) : reject(error),
      );
    });
    expect(printed).toMatch(/^function \d+\.\d+\.\d+\n$/);
  });
});
