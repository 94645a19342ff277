// Calibrates on runs to feeders of known distance, keeps the calibration, and estimates dances to unknown places.
//
//   node docs/examples/distances.mjs runs.csv foraging.csv calibration.json
import { calibrate, estimate, readObservations, writeCalibration } from 'combtone';

const [known, unknown, out] = process.argv.slice(2);
if (out === undefined) throw new Error('two tables of runs and a file to write are wanted');

const calibration = calibrate((await readObservations(known, 'calibrating')).rows);
await writeCalibration(out, calibration);
for (const measure of ['duration', 'tempo']) {
  const fitted = calibration[measure];
  if (fitted !== null) console.log(`${measure}: ${fitted.curve} curve, ${fitted.counts.dances} dances`);
}

const rows = estimate(calibration, (await readObservations(unknown, 'estimating')).rows, { level: 0.9 });
for (const row of rows) {
  const metres = (value) => (value === null ? '?' : value.toFixed(0));
  const interval = `${metres(row.distance_low_m)} to ${metres(row.distance_high_m)} m`;
  console.log(`${row.dance_id}: ${metres(row.distance_m)} m (90 %: ${interval}) ${row.note ?? ''}`.trimEnd());
}
