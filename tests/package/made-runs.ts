import type { RunRow } from 'combtone';

/** Simulated: 0.3 s and 1 ms a metre; bees differ by up to 30 ms, runs by up to 50 ms, by rule, not by chance. */
const durationS = (bee: number, distanceM: number, run: number) =>
  0.3 + distanceM / 1000 + 0.03 * ((bee % 3) - 1) + 0.05 * (((run * 7 + bee) % 5) / 2 - 1);

/** Runs of four bees to four feeders. */
export const knownRuns: RunRow[] = [200, 400, 700, 1000].flatMap((distanceM) =>
  [0, 1, 2, 3].flatMap((bee) =>
    [0, 1, 2, 3, 4, 5].map((run) => ({
      bee_id: `b${bee}`,
      dance_id: `d${distanceM}-${bee}`,
      distance_m: distanceM,
      duration_s: durationS(bee, distanceM, run),
    })),
  ),
);
/** Runs of one dance of 600 m. */
export const unknownRuns: RunRow[] = [0, 1, 2, 3, 4, 5].map((run) => ({
  dance_id: 'f1',
  duration_s: durationS(1, 600, run),
}));

/** Runs as a table with these columns. */
export const tableText = (runs: readonly RunRow[], columns: readonly (keyof RunRow)[]) =>
  `${[columns, ...runs.map((run) => columns.map((column) => run[column] ?? ''))].join('\n')}\n`;
