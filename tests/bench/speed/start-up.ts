import { medianOf } from '../../../src/signal/quantile.ts';
import type { Benchmark } from './benchmark.ts';

const REPEATS = 9;

/** How long a user waits for help, and for the first sample at most: what loading the program takes. */
export const startUp: Benchmark = {
  name: 'start-up',
  about: `combtone --help, combtone detect --help, and one second of sound searched, median of ${REPEATS}`,
  run: async (bench) => {
    const waits = async (...args: string[]) => {
      const walls: number[] = [];
      for (let k = 0; k < REPEATS; k++) walls.push((await bench.combtone(...args)).wallS);
      return 1000 * medianOf(walls);
    };
    const second = await bench.recording(1);
    return [
      { name: 'combtone --help', value: await waits('--help'), unit: 'ms' },
      { name: 'combtone detect --help', value: await waits('detect', '--help'), unit: 'ms' },
      {
        name: 'combtone detect on one second, from start to end',
        value: await waits('detect', second),
        unit: 'ms',
      },
    ];
  },
};
