import type { Benchmark } from './benchmark.ts';

const LENGTHS_S = [600, 3600, 14_400];

/** Whether the cost of an hour, and the memory, stay the same as recordings grow. */
export const growth: Benchmark = {
  name: 'growth',
  about: 'combtone detect on 10 minutes, 1 hour and 4 hours: processor time per hour of sound, peak memory',
  run: async (bench) => {
    const runs = [];
    for (const lengthS of LENGTHS_S) runs.push({ lengthS, ...(await bench.detect(lengthS)) });
    const costs = runs.map(({ lengthS, processorS }) => (processorS / lengthS) * 3600);
    const label = (lengthS: number) => `${lengthS / 60} min`;
    return [
      ...runs.map(({ lengthS }, k) => ({
        name: `${label(lengthS)}, processor per hour of sound`,
        value: costs[k]!,
        unit: 's',
      })),
      { name: 'cost per hour, longest over one hour', value: costs.at(-1)! / costs[1]!, unit: '×' },
      ...runs.map(({ lengthS, peakMib }) => ({
        name: `${label(lengthS)}, peak memory`,
        value: peakMib,
        unit: 'MiB',
      })),
      {
        name: 'peak memory, longest less shortest',
        value: runs.at(-1)!.peakMib - runs[0]!.peakMib,
        unit: 'MiB',
      },
    ];
  },
};
