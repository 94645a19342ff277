import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { files, imports, importsOf, ROOT, roomOf, webImports } from './imports.ts';

/** What each room may import, besides itself and the leaves in src/. */
const MAY_IMPORT: Readonly<Record<string, readonly string[]>> = {
  root: [],
  /** What a script may import: nothing of cli, server and jobs, which start things of their own. */
  face: ['study', 'dance', 'calibration', 'bearing', 'signal', 'recording'],
  signal: [],
  calibration: [],
  bearing: [],
  recording: ['signal'],
  dance: ['signal', 'recording'],
  study: ['dance', 'calibration', 'bearing', 'signal', 'recording'],
  simulate: ['study', 'signal', 'recording'],
  jobs: ['study', 'dance', 'calibration', 'bearing', 'signal', 'recording'],
  server: ['jobs', 'study', 'dance', 'calibration', 'bearing', 'signal', 'recording'],
  cli: ['jobs', 'server', 'simulate', 'study', 'dance', 'calibration', 'bearing', 'signal', 'recording'],
};
const LEAVES = ['src/input-error.ts', 'src/random.ts'];

/** Rooms whose files hold pure functions or types a page may share; anything that reads files may not be. */
const NODE_ONLY = /\bfrom\s*['"](?:node:|better-sqlite3|fastify|commander|piscina|bullmq)/;

/** Imports of types alone that close a loop, and are put up with. None should be added. */
const TYPE_LOOPS: readonly string[] = ['src/calibration/warnings.ts → src/calibration/calibrate.ts'];

describe('the house', () => {
  test('the parser sees every kind of import', () => {
    const source = [
      "import { a } from './a.ts';",
      "import type { B } from '../signal/b.ts';",
      "import { type C, type D } from './c.ts';",
      "import { type E, f } from './e.ts';",
      "export { g } from './g.ts';",
      "import './h.ts';",
      "const i = await import('./i.ts');",
      "import {\n  j,\n  k,\n} from './j.ts';",
      "// import { no } from './comment.ts';",
      "import fs from 'node:fs';",
    ].join('\n');
    expect(importsOf('src/dance/x.ts', source).map(({ to, typeOnly }) => [to, typeOnly])).toEqual([
      ['src/dance/a.ts', false],
      ['src/signal/b.ts', true],
      ['src/dance/c.ts', true],
      ['src/dance/e.ts', false],
      ['src/dance/g.ts', false],
      ['src/dance/h.ts', false],
      ['src/dance/i.ts', false],
      ['src/dance/j.ts', false],
    ]);
  });

  test('there is something to look at, and every imported file is there', () => {
    expect(files.length).toBeGreaterThan(50);
    expect(imports.length).toBeGreaterThan(100);
    const known = new Set(files);
    const lost = imports.filter(({ to }) => !known.has(to) && !to.endsWith('.d.ts'));
    expect(lost.map(({ from, to }) => `${from} → ${to}`)).toEqual([]);
  });

  test('every room is known here', () => {
    expect([...new Set(files.map(roomOf))].filter((room) => !(room in MAY_IMPORT))).toEqual([]);
  });

  test('imports point one way', () => {
    const wrong = imports.filter(({ from, to }) => {
      const room = roomOf(from);
      return roomOf(to) !== room && !LEAVES.includes(to) && !(MAY_IMPORT[room] ?? []).includes(roomOf(to));
    });
    expect(wrong.map(({ from, to }) => `${from} → ${to}`)).toEqual([]);
  });

  test('no file imports itself by any way round', () => {
    const targets = new Map<string, string[]>();
    for (const { from, to } of imports) {
      if (!TYPE_LOOPS.includes(`${from} → ${to}`)) targets.set(from, [...(targets.get(from) ?? []), to]);
    }
    expect(cycleIn(targets)).toEqual([]);
    const looping = imports.filter(({ from, to }) => TYPE_LOOPS.includes(`${from} → ${to}`));
    expect(looping.filter(({ typeOnly }) => !typeOnly)).toEqual([]);
  });

  test('a cycle would be seen', () => {
    const targets = new Map([
      ['a', ['b']],
      ['b', ['c', 'd']],
      ['d', ['b']],
    ]);
    expect(cycleIn(targets)).toEqual(['b', 'd', 'b']);
  });

  test('the page shares only types, and functions that need no machine under them', () => {
    const wrong = webImports.filter(
      ({ to, typeOnly }) => !typeOnly && to.startsWith('src/') && needsMachine(to, new Set()),
    );
    expect(wrong.map(({ from, to }) => `${from} → ${to}`)).toEqual([]);
  });
});

/** Whether a file, or any it imports for more than types, imports what only Node has. */
function needsMachine(path: string, seen: Set<string>): boolean {
  if (seen.has(path)) return false;
  seen.add(path);
  if (NODE_ONLY.test(readFileSync(join(ROOT, path), 'utf8'))) return true;
  return imports.some(({ from, to, typeOnly }) => from === path && !typeOnly && needsMachine(to, seen));
}

/** The first cycle found, its first file named again at its end; empty when there is none. */
function cycleIn(targets: ReadonlyMap<string, readonly string[]>): string[] {
  const done = new Set<string>();
  const visit = (path: string, trail: readonly string[]): string[] => {
    const at = trail.indexOf(path);
    if (at >= 0) return [...trail.slice(at), path];
    if (done.has(path)) return [];
    for (const target of targets.get(path) ?? []) {
      const cycle = visit(target, [...trail, path]);
      if (cycle.length > 0) return cycle;
    }
    done.add(path);
    return [];
  };
  for (const path of targets.keys()) {
    const cycle = visit(path, []);
    if (cycle.length > 0) return cycle;
  }
  return [];
}
