import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('../../', import.meta.url));
const read = (path: string) => readFileSync(`${root}${path}`, 'utf8');
const { version, license } = JSON.parse(read('package.json')) as { version: string; license: string };

describe('what goes with a release', () => {
  test('the newest changes are those of this version', () => {
    expect(/^## (\d+\.\d+\.\d+)/m.exec(read('docs/CHANGELOG.md'))?.[1]).toBe(version);
  });

  test('the citation names this version and licence, and all that the format asks for', () => {
    const citation = read('docs/CITATION.cff');
    const value = (key: string) => new RegExp(`^${key}: (.*)$`, 'm').exec(citation)?.[1];
    expect(value('version')).toBe(version);
    expect(value('license')).toBe(license);
    expect(value('cff-version')).toBe('1.2.0');
    expect(value('title')).toBe('combtone');
    expect(value('message')).toMatch(/cite/);
    expect(citation).toMatch(/^authors:\n {2}- name: The combtone developers$/m);
  });

  test.each(['CHANGELOG.md', 'CITATION.cff', 'verification.md', 'api.md'])(
    'the README leads to docs/%s',
    (name) => {
      expect(read('README.md')).toContain(`](docs/${name})`);
    },
  );
});

describe('docs/verification.md', () => {
  const page = read('docs/verification.md');

  test('names every file of tests/published, and none that is not there', () => {
    const there = readdirSync(`${root}tests/published`);
    expect(there.filter((name) => !page.includes(`\`${name}\``))).toEqual([]);
    const named = [...page.matchAll(/`([\w/.-]+\.ts)`/g)].map(([, name]) => name!);
    const known = (name: string) => there.includes(name) || read(name).length > 0;
    expect(named.length).toBeGreaterThan(there.length);
    expect(named.filter((name) => !known(name))).toEqual([]);
  });

  test('every row says what, source, how known, tolerance and where', () => {
    const rows = page.split('\n').filter((line) => /^\| (?!what)/.test(line));
    expect(rows.length).toBeGreaterThan(12);
    const poor = rows.filter((row) => {
      const cells = row.split('|').slice(1, -1);
      return cells.length !== 5 || cells.some((cell) => cell.trim() === '');
    });
    expect(poor).toEqual([]);
  });
});
