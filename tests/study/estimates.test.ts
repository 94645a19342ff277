import { expect, test } from 'vitest';
import { calibrateObservations } from '../../src/study/calibrate-observations.ts';
import { estimateRows } from '../../src/study/estimates.ts';
import { observationsOfRows, type RunRow } from '../../src/study/observations.ts';
import { isOtherTreatment, otherTreatmentWords } from '../../src/study/other-treatment.ts';

/** Made runs on a line of duration and one of circuit time. */
const runs = [200, 500, 800, 1100].flatMap((distanceM) =>
  ['red', 'blue', 'white'].flatMap((beeId, bee) =>
    [-0.03, 0.01, 0.02].map(
      (offS): RunRow => ({
        dance_id: `${beeId}-${distanceM}`,
        bee_id: beeId,
        distance_m: distanceM,
        duration_s: 0.2 + 0.001 * distanceM + 0.01 * bee + offS,
        circuits_per_15s: 15 / (1.5 + 0.0015 * distanceM + 0.02 * bee - 2 * offS),
      }),
    ),
  ),
);

test('the used runs of an estimate are those with a duration, or failing that those with a tempo', () => {
  const record = calibrateObservations(observationsOfRows(runs, 'calibrating'), {
    curve: 'line',
    tempoCurve: 'line',
    runs: 'all',
    draws: 20,
  });
  const told: RunRow[] = [
    ...[0.8, 0.82, 0.78].map((duration_s) => ({ dance_id: 'timed', duration_s, circuits_per_15s: null })),
    { dance_id: 'timed', duration_s: 0.8, circuits_per_15s: 6.25 },
    { dance_id: 'counted', duration_s: null, circuits_per_15s: 6.25 },
    { dance_id: 'counted', duration_s: null, circuits_per_15s: 6.2 },
  ];
  const rows = estimateRows(record, observationsOfRows(told, 'estimating').dances, 0.95);
  expect(rows.map((row) => [row.run_count, row.used_runs, row.note])).toEqual([
    [4, 4, expect.stringMatching(/^from duration and tempo/)],
    [2, 2, expect.stringMatching(/^from tempo/)],
  ]);
});

test('a curve of loaded bees is a loaded dance’s own, and not that of bees as they are', () => {
  const loaded = runs.map((run) => ({ ...run, treatment: 'loaded' }));
  const record = calibrateObservations(observationsOfRows(loaded, 'calibrating'), {
    curve: 'line',
    tempoCurve: 'line',
    runs: 'all',
    draws: 20,
  });
  const told = ['loaded', 'reference', null].map(
    (treatment): RunRow => ({ dance_id: `${treatment}`, duration_s: 0.8, treatment }),
  );
  const rows = estimateRows(record, observationsOfRows(told, 'estimating').dances, 0.95);
  expect(rows.map(isOtherTreatment)).toEqual([false, true, false]);
  expect(rows[1]!.note).toContain('by the curve of bees of treatment loaded');
  expect(otherTreatmentWords([...rows, ...rows, { ...rows[0]!, treatment: 'wind' }])).toBe(
    '3 dances of treatment reference (2), wind (1) were estimated by the curve of bees of treatment loaded',
  );
});
