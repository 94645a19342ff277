import { medianOf } from '../../../src/signal/quantile.ts';
import type { Bench, Benchmark, ChildRun, Figure } from './benchmark.ts';

const HOUR_S = 3600;
const ROUNDS = 3;
const THREADS = [1, 2, 4];
/** Lengths of recordings for many at once, as they come from a recorder that is cut off now and then. */
const MANY_S = [900, 600, 1200, 780, 660];

/** How much of each further core is put to use, and what each thread costs in memory. */
export const threads: Benchmark = {
  name: 'threads',
  about: `combtone detect on one hour and on ${MANY_S.length} recordings, with ${THREADS.join(', ')} threads in turn, median of ${ROUNDS}`,
  run: async (bench) => {
    const hour = await bench.recording(HOUR_S);
    const many: string[] = [];
    for (const lengthS of MANY_S) many.push(await bench.recording(lengthS));
    return [
      ...(await figuresOf(bench, 'one hour', [hour], HOUR_S)),
      ...(await figuresOf(bench, `${many.length} recordings`, many, sumOf(MANY_S))),
    ];
  },
};

async function figuresOf(
  bench: Bench,
  name: string,
  paths: readonly string[],
  soundS: number,
): Promise<Figure[]> {
  // In turn, so that a machine that is busy for a while is busy for all.
  const runs = new Map<number, ChildRun[]>(THREADS.map((count) => [count, []]));
  for (let round = 0; round < ROUNDS; round++) {
    for (const count of THREADS) {
      runs.get(count)!.push(await bench.combtone('detect', ...paths, '--threads', String(count)));
    }
  }
  const wallS = (count: number) => medianOf(runs.get(count)!.map((run) => run.wallS));
  const peakMib = (count: number) => Math.max(...runs.get(count)!.map((run) => run.peakMib));
  return THREADS.flatMap((count): Figure[] => [
    { name: `${name}, ${count} threads, times real time`, value: soundS / wallS(count), unit: '×' },
    ...(count === 1
      ? []
      : [
          { name: `${name}, ${count} threads, faster than 1`, value: wallS(1) / wallS(count), unit: '×' },
          {
            name: `${name}, ${count} threads, processor time over that of 1`,
            value: processorS(runs.get(count)!) / processorS(runs.get(1)!),
            unit: '×',
          },
        ]),
    { name: `${name}, ${count} threads, peak memory`, value: peakMib(count), unit: 'MiB' },
  ]);
}

const processorS = (runs: readonly ChildRun[]): number => medianOf(runs.map((run) => run.processorS));

function sumOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0);
}
