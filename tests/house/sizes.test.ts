import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { files, ROOT } from './imports.ts';

const LONGEST_FILE = 400;
const LONGEST_FUNCTION = 60;

const linesOf = (path: string) => readFileSync(join(ROOT, path), 'utf8').trimEnd().split('\n');

/** Functions at the outermost level, and how many lines they take; what is written inside them is part of them. */
function functionLengths(lines: readonly string[]): { name: string; length: number }[] {
  const found: { name: string; length: number }[] = [];
  let begun: { name: string; at: number } | null = null;
  lines.forEach((line, at) => {
    const head =
      /^(?:export )?(?:async )?function\*? (\w+)|^(?:export )?const (\w+)(?:: [^=]+)? = (?:async )?\(/.exec(
        line,
      );
    if (head !== null) begun = { name: (head[1] ?? head[2])!, at };
    if (begun !== null && /^(\}|\};|\}\);|\);)$/.test(line)) {
      found.push({ name: begun.name, length: at - begun.at + 1 });
      begun = null;
    }
  });
  return found;
}

describe('the size of things', () => {
  test('no file is over 400 lines, unless its top says why', () => {
    const long = files.filter((path) => linesOf(path).length > LONGEST_FILE);
    const silent = long.filter(
      (path) => !/\blong\b.*\bbecause\b/s.test(linesOf(path).slice(0, 10).join('\n')),
    );
    expect(silent).toEqual([]);
  });

  test('no function is over 60 lines', () => {
    const long = files.flatMap((path) =>
      functionLengths(linesOf(path))
        .filter(({ length }) => length > LONGEST_FUNCTION)
        .map(({ name, length }) => `${path}: ${name}, ${length} lines`),
    );
    expect(long).toEqual([]);
  });

  test('a function is measured from its name to its end', () => {
    const source = ['export function a() {', '  if (b) {', '  }', '}', 'const c = async (', ') => {', '};'];
    expect(functionLengths(source)).toEqual([
      { name: 'a', length: 4 },
      { name: 'c', length: 3 },
    ]);
  });
});
