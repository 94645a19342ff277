/**
 * Measures how fast the built program is and how much memory it takes, each run in a process of its own.
 *
 *   npm run bench -- [--out FILE.json] [--only start-up,speed,growth] [--against EARLIER.json]
 *
 * --against prints each figure beside that of an earlier run's JSON, and what differs of machine and versions.
 *
 * Takes some minutes and about 2 GB of temporary files. Figures are of this machine as busy as it is: compare
 * ratios within a run rather than seconds between runs.
 */
import { mkdtemp, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { textTable } from '../../src/study/text-table.ts';
import { combtoneVersion } from '../../src/study/version.ts';
import type { Bench, ChildRun, Figure } from './speed/benchmark.ts';
import { childRun } from './speed/child-run.ts';
import { type BenchRun, comparedRows, differences, rounded } from './speed/compare-runs.ts';
import { benchmarks } from './speed/registry.ts';
import { recordingTiler } from './speed/tiled-recording.ts';

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: { out: { type: 'string' }, only: { type: 'string' }, against: { type: 'string' } },
  });
  // Read before anything is measured: a wrong name should not cost the wait.
  const before =
    values.against === undefined ? null : (JSON.parse(await readFile(values.against, 'utf8')) as BenchRun);
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
  const { node, v8 } = process.versions;
  const run: BenchRun = {
    machine: {
      processors: cpus().length,
      model: cpus()[0]?.model,
      platform: `${process.platform}-${process.arch}`,
      loadBefore,
    },
    versions: { combtone: combtoneVersion, node, v8 },
    results,
  };
  if (values.out !== undefined) {
    await writeFile(`${values.out}.tmp`, `${JSON.stringify(run, null, 2)}\n`);
    await rename(`${values.out}.tmp`, values.out);
  }
  if (before !== null) {
    const head = ['against the earlier run', 'before', 'now', 'unit', 'now / before'];
    process.stdout.write(`\n${textTable([head, ...comparedRows(before, run)])}\n`);
    for (const line of differences(before, run)) process.stdout.write(`${line}\n`);
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
    source: (name) => here(`../../../tests/bench/${name}`),
    script: (name, ...args) => childRun(here(`speed/${name}`), args),
  };
}

await main();
