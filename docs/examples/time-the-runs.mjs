// Times the waggle runs of one recording and says, dance by dance, how long they last.
//
//   node docs/examples/time-the-runs.mjs hive-20310614_093000.wav
import { detect } from 'combtone';

const [path] = process.argv.slice(2);
if (path === undefined) throw new Error('a recording is wanted');

const { dances, trains, warnings } = await detect(path, { leastConfidence: 0.7 });

for (const dance of dances) {
  const mean = dance.mean_duration_s === null ? 'unknown' : `${dance.mean_duration_s.toFixed(2)} s`;
  console.log(`${dance.dance_id}: ${dance.run_count} runs, mean ${mean}`);
}
const faint = trains.filter((train) => train.snr_db !== null && train.snr_db < 3);
console.log(`${trains.length} runs, ${faint.length} of them too faint to trust their duration`);
for (const warning of warnings) console.log(`mind: ${warning}`);
