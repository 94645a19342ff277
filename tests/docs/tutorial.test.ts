import { execFile } from 'node:child_process';
import { chmod, mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { expect, onTestFinished, test } from 'vitest';

const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
const TUTORIAL = fileURLToPath(new URL('../../docs/tutorial.md', import.meta.url));
const run = promisify(execFile);

/** Every fenced block of a page, with the word behind its fence. */
function blocksOf(page: string): { kind: string; text: string }[] {
  return [...page.matchAll(/^```(\w*)\n([\s\S]*?)^```$/gm)].map(([, kind, text]) => ({
    kind: kind!,
    text: text!,
  }));
}

test.runIf(process.platform !== 'win32')(
  'every command of the tutorial does what it says, in its order',
  { timeout: 180_000 },
  async () => {
    const folder = await mkdtemp(join(tmpdir(), 'combtone-tutorial-'));
    onTestFinished(() => rm(folder, { recursive: true, force: true }));
    const blocks = blocksOf(await readFile(TUTORIAL, 'utf8'));
    expect(blocks.length).toBeGreaterThan(9);
    expect(blocks.map(({ kind }) => kind).filter((kind) => kind !== 'sh')).toEqual([]);
    await mkdir(join(folder, 'bin'));
    await mkdir(join(folder, 'work'));
    await writeFile(join(folder, 'bin/combtone'), `#!/bin/sh\nexec "${process.execPath}" "${MAIN}" "$@"\n`);
    await chmod(join(folder, 'bin/combtone'), 0o755);
    const env = { ...process.env, PATH: `${join(folder, 'bin')}${delimiter}${process.env.PATH}` };
    const printed: string[] = [];
    for (const { text } of blocks) {
      const { stdout } = await run('sh', ['-e', '-c', text], { cwd: join(folder, 'work'), env });
      printed.push(stdout);
    }
    const all = printed.join('\n');
    const at = (name: string) => join(folder, 'work', name);
    expect(all).toMatch(/4 recordings detected/);
    expect(all).toMatch(/14 dances noted/);
    expect(all).toMatch(/10 dances to constant sources lie \d+\.\d° .*no other clock/);
    expect(all).toMatch(/Saved in saltmarsh as june/);
    expect(all).toMatch(/4 dances mapped/);
    expect(all).toMatch(/\d+ sounds marked/);
    expect((await readdir(at('map'))).sort()).toEqual([
      'density.asc',
      'density.prj',
      'map.geojson',
      'places.csv',
    ]);
    const places = (await readFile(at('map/places.csv'), 'utf8')).trim().split('\n').slice(1);
    expect(places.length).toBe(4);
    // The goals lie at 205 and 320°; the noted angles were read to 5°.
    const bearings = places.map((row) => Number(row.split(',')[6])).sort((a, b) => a - b);
    for (const [k, goal] of [205, 205, 320, 320].entries())
      expect(Math.abs(bearings[k]! - goal)).toBeLessThan(20);
    const report = await readFile(at('saltmarsh.html'), 'utf8');
    expect(report).toContain('calibration “june”');
    expect(report).toContain('"name":"map"');
    expect(all).toMatch(/Made: again, with 4 recordings/);
  },
);
