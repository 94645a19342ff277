import { readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Curve } from '../../src/calibration/curves/curve.ts';
import { curves } from '../../src/calibration/curves/registry.ts';
import type { CallKindRule } from '../../src/dance/call-kinds/call-kind.ts';
import { callKinds } from '../../src/dance/call-kinds/registry.ts';
import type { ExportContents, ExportFormat } from '../../src/study/export/export-format.ts';
import { madeTone } from '../dance/made-tone.ts';
import { ROOT } from './imports.ts';
import { graphText, plainArrows } from './module-graph.ts';

const page = readFileSync(join(ROOT, 'DEVELOPERS.md'), 'utf8');

describe('the module graph in DEVELOPERS.md', () => {
  const marked = /(<!-- module graph[^>]*-->\n)[\s\S]*?(<!-- end of module graph -->)/;

  test('is what the imports say', async () => {
    expect(page).toMatch(marked);
    const drawn = page.replace(
      marked,
      (_, begin: string, end: string) => `${begin}\n${graphText()}\n\n${end}`,
    );
    await expect(drawn).toMatchFileSnapshot('../../DEVELOPERS.md');
  });

  test('an arrow that follows from others is left out', () => {
    const graph = new Map([
      ['a', ['b', 'c', 'd']],
      ['b', ['c']],
      ['c', []],
      ['d', []],
    ]);
    expect(plainArrows(graph)).toEqual([
      ['a', 'b'],
      ['a', 'd'],
      ['b', 'c'],
    ]);
  });
});

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-developers-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** What an example of the page exports, read as if it stood where the page says. */
async function example(path: string): Promise<Record<string, unknown>> {
  const [, code] = new RegExp(`\`${path}\`[^\`]*\`\`\`ts\\n([\\s\\S]*?)\`\`\``).exec(page) ?? [];
  if (code === undefined) throw new Error(`no example of ${path}`);
  const there = pathToFileURL(join(ROOT, path)).href;
  const moved = code.replaceAll(
    /from '(\.[^']*)'/g,
    (_, to: string) => `from '${new URL(to, there).pathname}'`,
  );
  const file = join(folder, path.replaceAll('/', '-'));
  await writeFile(file, moved);
  return (await import(/* @vite-ignore */ file)) as Record<string, unknown>;
}

describe('the examples of DEVELOPERS.md do what it says', () => {
  test('a kind of call', async () => {
    const { trill } = (await example('src/dance/call-kinds/trill.ts')) as { trill: CallKindRule };
    const tone = (startS: number, carrierHz: number) => madeTone({ startS, endS: startS + 0.05, carrierHz });
    const falling = [tone(0, 420), tone(0.1, 400), tone(0.2, 380), tone(0.3, 360), tone(2, 350)];
    expect(trill.take(falling)).toEqual(falling.slice(0, 4));
    expect(trill.take([...falling].reverse())).toEqual([]);
    expect(callKinds.map(({ turn }) => turn as number)).not.toContain(trill.turn);
  });

  test('a curve', async () => {
    const { root } = (await example('src/calibration/curves/root.ts')) as { root: Curve };
    const parameters = root.toParameters([0.4, 1.5], 0, 900);
    for (const distanceM of [50, 400, 900]) {
      const reach = distanceM / 900;
      expect(root.value(distanceM, parameters)).toBeCloseTo(0.4 + 1.5 * root.column(0, reach, 0), 9);
      const step = 0.01;
      const rise = root.value(distanceM + step, parameters) - root.value(distanceM - step, parameters);
      expect(root.slope(distanceM, parameters)).toBeCloseTo(rise / (2 * step), 6);
      const [da, db] = root.gradient(distanceM, parameters);
      expect(da).toBe(1);
      expect(db).toBeCloseTo(root.value(distanceM, [0, 1]), 9);
    }
    expect(root.fault([0.4, -1])).toMatch(/do not rise/);
    // What every curve of the house has, so that the example stays whole when a curve gets a part more.
    expect(Object.keys(root).sort()).toEqual(Object.keys(curves[0]!).sort());
  });

  test('a format of the export', async () => {
    const { kmlFormat } = (await example('src/study/export/kml.ts')) as { kmlFormat: ExportFormat };
    const dances = [
      { dance: { id: 'a<b' }, place: { latitudeDeg: 48.123456789, longitudeDeg: 8 } },
      { dance: { id: 'nowhere' }, place: null },
    ];
    const contents = { findings: { dances } } as unknown as ExportContents;
    const [[path, text]] = [...kmlFormat(contents)] as [[string, string]];
    expect(path).toBe('places.kml');
    expect(text).toContain(
      '<name>a&lt;b</name><Point><coordinates>8.0000000,48.1234568</coordinates></Point>',
    );
    expect(text).not.toContain('nowhere');
  });
});
