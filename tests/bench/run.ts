/**
 * Measures how fast the built program is and how much memory it takes, each run in a process of its own.
 *
 *   npm run bench -- [--out FILE.json] [--only start-up,speed,growth]
 *
 * Takes some minutes and about 2 GB of temporary files. Figures are of this machine as busy as it is: compare
 * ratios within a run rather than seconds between runs.
 */
import { mkdtemp, rename, rm, writeFile } from 'node:fs/promises';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { textTable } from '../../src/study/text-table.ts';
import type { Bench, ChildRun, Figure } from './speed/benchmark.ts';
import { childRun } from './speed/child-run.ts';
import { benchmarks } from './speed/registry.ts';
import { recordingTiler } from './speed/tiled-recording.ts';

async function main(): Promise<void> {
  const { values } = parseArgs({ options: { out: { type: 'string' }, only: { type: 'string' } } });
  const wanted = values.only?.split(',') ?? benchmarks.map(({ name }) => name);
  const unknown = wanted.find((name) => !benchmarks.some((benchmark) => benchmark.name === name));
  if (unknown !== undefined) {
    const known = benchmarks.map(({ name }) => name).join(', ');
    throw new Error(`--only: found ${JSON.stringify(unknown)}; wanted some of ${known}`);
  }
  const loadBefore = loadavg()[0]!;
  const folder = await mkdtemp(join(tmpdir(), 'combtone-bench-'));
  const results: { name: string; about: string; figures: Figure[] }[] = [];
  try {
    const bench = benchIn(folder);
    for (const { name, about, run } of benchmarks) {
      if (!wanted.includes(name)) continue;
      process.stderr.write(`${name}: ${about}\n`);
      const figures = await run(bench);
      results.push({ name, about, figures });
      const rows = figures.map((figure) => [figure.name, rounded(figure.value), figure.unit]);
      process.stdout.write(`\n${textTable([[name, 'value', 'unit'], ...rows])}\n`);
    }
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
  if (values.out !== undefined) {
    const machine = { node: process.version, processors: cpus().length, model: cpus()[0]?.model, loadBefore };
    await writeFile(`${values.out}.tmp`, `${JSON.stringify({ machine, results }, null, 2)}\n`);
    await rename(`${values.out}.tmp`, values.out);
  }
}

/** Recordings and runs of detect are kept by length: every benchmark that asks for one gets the same. */
function benchIn(folder: string): Bench {
  // Compiled, this file stands in .bench/tests/bench/.
  const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
  const tile = recordingTiler();
  const recordings = new Map<number, Promise<string>>();
  const runs = new Map<number, Promise<ChildRun>>();
  const kept = <T>(made: Map<number, Promise<T>>, key: number, make: () => Promise<T>): Promise<T> => {
    const value = made.get(key) ?? make();
    made.set(key, value);
    return value;
  };
  const combtone = (...args: readonly string[]) => childRun(here('../../../dist/cli/main.js'), args);
  const recording = (lengthS: number) =>
    kept(recordings, lengthS, async () => {
      const path = join(folder, `simulated-${lengthS}s.wav`);
      await tile(path, lengthS);
      return path;
    });
  return {
    recording,
    combtone,
    detect: (lengthS) =>
      kept(runs, lengthS, async () =>
        combtone('detect', await recording(lengthS), '--out', join(folder, `found-${lengthS}s`)),
      ),
    script: (name, ...args) => childRun(here(`speed/${name}`), args),
  };
}

function rounded(value: number): string {
  return value >= 100 ? value.toFixed(0) : value.toPrecision(3);
}

await main();
