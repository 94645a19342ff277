import { join, resolve } from 'node:path';
import { DEFAULT_SETTINGS } from '../dance/settings.ts';
import { demoFeeders, demoForaging, demoStation, demoTraining } from '../simulate/demo-scenario.ts';
import { type PartialSimulationOptions, simulateHive } from '../simulate/index.ts';
import type { TruthTables } from '../simulate/truth.ts';
import { compareTrains } from '../study/agreement.ts';
import { agreementText } from '../study/agreement-text.ts';
import { calibrateObservations } from '../study/calibrate-observations.ts';
import { writeCalibration } from '../study/calibration-record.ts';
import { calibrationText } from '../study/calibration-text.ts';
import { writeTable } from '../study/csv.ts';
import { detectRecording, type RecordingDetection } from '../study/detect-recording.ts';
import { dancesText, recordingsText } from '../study/detection-text.ts';
import { estimateRows } from '../study/estimates.ts';
import { makeFolder } from '../study/make-folder.ts';
import { readObservations } from '../study/observations.ts';
import { type DanceNote, observationsOfDances } from '../study/observations-of-dances.ts';
import { openStudy } from '../study/study-folder.ts';
import {
  callSchema,
  type DanceRow,
  danceSchema,
  type EstimateRow,
  estimateSchema,
  observationSchema,
  trainSchema,
} from '../study/tables.ts';
import { textTable } from '../study/text-table.ts';
import { type DemoRecording, makeDemoStudy } from './demo-study.ts';
import { stoppable } from './interruption.ts';
import { withProgress } from './progress.ts';
import { serveReview } from './serve-review.ts';

export interface DemoOptions {
  readonly out: string;
  readonly serve: boolean;
  readonly port: number;
  readonly debug?: boolean;
}

/**
 * Simulates a study, does the whole job on it, and serves the review page unless told not to; the exit code becomes that
 * of a signal that ends it before its time.
 */
export async function runDemo({ out, serve, port, debug }: DemoOptions): Promise<void> {
  makeFolder(out);
  const folder = join(out, 'study');
  const done = await stoppable(`what is whole so far is in ${out}`, async (signal) => {
    const recordings = await wholeJob(out, signal);
    heading('The same as a study, to look at and to listen to');
    await makeDemoStudy(folder, recordings, signal);
    signal.throwIfAborted();
  });
  if (!done) return;
  const again = `combtone review --study ${folder}`;
  if (!serve) return say(`The review page: ${again}`);
  const options = { host: '127.0.0.1', port, orAnyPort: true, ...(debug ? { debug } : {}) };
  await serveReview(await openStudy(folder), options, ({ url }, instead) => {
    if (instead) say(`Port ${port} is taken; another is used.`);
    say(`The review page: ${url}
It stays up until Ctrl-C; afterwards: ${again}`);
  });
}

async function wholeJob(folder: string, signal: AbortSignal): Promise<DemoRecording[]> {
  say(`combtone demo: ${demoStation}
ALL DATA BELOW ARE SIMULATED. No bee made these sounds, and the place is invented.
Feeders: ${demoFeeders.map((f) => `${f.feederId} ${f.distanceM} m (${f.paintMark})`).join(', ')}`);

  heading('1  A training day is recorded: five feeders, one after the other');
  const training = await recordAndDetect(folder, 'training-20310614_093000', demoTraining, signal);
  say(dancesText(training.found.dances));

  heading('2  How well were the runs heard? (the truth is known, as the data are simulated)');
  say(agreementText(compareTrains(training.truth.trains, training.found.trains, training.truth.calls), []));

  heading('3  The colony’s curve: run duration on distance');
  say(`Which bee danced for which feeder is what an observer notes at the hive from paint marks.
    combtone calibrate --observations ${folder}/training-observations.csv --out ${folder}/calibration.json`);
  const trainingFile = join(folder, 'training-observations.csv');
  await writeTable(
    trainingFile,
    observationSchema,
    observationsOfDances(training.found.trains, notesOf(training.found.dances, training.truth, true)),
  );
  const record = calibrateObservations(await readObservations(trainingFile, 'calibrating'), {
    curve: 'auto',
    runs: 'inner',
  });
  await writeCalibration(join(folder, 'calibration.json'), record);
  say(`\n${calibrationText(record)}`);

  heading('4  Next day: dances to places that nobody knows');
  const foraging = await recordAndDetect(folder, 'foraging-20310615_100000', demoForaging, signal);
  const foragingFile = join(folder, 'foraging-observations.csv');
  const notes = notesOf(foraging.found.dances, foraging.truth, false);
  await writeTable(foragingFile, observationSchema, observationsOfDances(foraging.found.trains, notes));
  const { dances } = await readObservations(foragingFile, 'estimating');
  const estimates = estimateRows(record, dances, 0.95).map((row) => estimateSchema.parse(row));
  await writeTable(join(folder, 'estimates.csv'), estimateSchema, estimates);
  say(`    combtone estimate --calibration ${folder}/calibration.json --observations ${foragingFile}\n`);
  say(estimatesBesideTruth(estimates, foraging));

  heading('Files');
  say(`Everything is in ${resolve(folder)}: recordings, truth, tables, calibration.
Next: combtone detect --help, or docs/ for the methods. Read docs/cautions.md before work at a hive.`);
  return [training, foraging].map(({ path, found, truth }) => ({
    path,
    found,
    trueDance: (startS, endS) => trueDance(startS, endS, truth),
  }));
}

interface Heard {
  readonly path: string;
  readonly found: RecordingDetection;
  readonly truth: TruthTables;
}

async function recordAndDetect(
  folder: string,
  name: string,
  options: PartialSimulationOptions,
  signal: AbortSignal,
): Promise<Heard> {
  const made = await withProgress((progress) =>
    simulateHive(folder, name, options, { signal, onProgress: (share) => progress('Simulating', share) }),
  );
  say(`    combtone detect ${made.recordingPath} --out ${join(folder, name)}\n`);
  const found = await withProgress((progress) =>
    detectRecording(made.recordingPath, {
      settings: DEFAULT_SETTINGS,
      channels: [],
      signal,
      onProgress: (searchedS, durationS) => progress('Detecting', searchedS / durationS),
    }),
  );
  const tables = join(folder, name);
  makeFolder(tables);
  await writeTable(join(tables, 'trains.csv'), trainSchema, found.trains);
  await writeTable(join(tables, 'calls.csv'), callSchema, found.calls);
  await writeTable(join(tables, 'dances.csv'), danceSchema, found.dances);
  say(`${recordingsText([found])}\n`);
  return { path: made.recordingPath, found, truth: made.truth };
}

/**
 * An observer's notes: for each found dance of three runs or more, the dancer of the true dance that it shares
 * most time with, and, where feeders are open, the feeder's distance.
 */
function notesOf(
  dances: readonly DanceRow[],
  truth: TruthTables,
  atFeeders: boolean,
): Map<string, DanceNote> {
  const notes = new Map<string, DanceNote>();
  for (const dance of dances) {
    const real = trueDance(dance.start_s, dance.end_s, truth);
    if (real === undefined || dance.run_count < 3) continue;
    notes.set(dance.dance_id, {
      beeId: real.bee_id,
      distanceM: atFeeders ? real.distance_m : null,
      treatment: null,
    });
  }
  return notes;
}

/** The true dance that shares most time with a stretch. */
function trueDance(startS: number, endS: number, truth: TruthTables): DanceRow | undefined {
  const shared = (real: DanceRow) => Math.min(real.end_s, endS) - Math.max(real.start_s, startS);
  const best = truth.dances.reduce<DanceRow | undefined>(
    (most, real) => (most === undefined || shared(real) > shared(most) ? real : most),
    undefined,
  );
  return best !== undefined && shared(best) > 0 ? best : undefined;
}

function estimatesBesideTruth(estimates: readonly EstimateRow[], foraging: Heard): string {
  const cell = (value: number | null | undefined) => (value == null ? '' : value.toFixed(0));
  let held = 0;
  const rows = estimates.map((row) => {
    const dance = foraging.found.dances.find((one) => one.dance_id === row.dance_id);
    const truthM = dance && trueDance(dance.start_s, dance.end_s, foraging.truth)?.distance_m;
    const low = row.distance_low_m ?? 0;
    const high = row.distance_high_m ?? Number.POSITIVE_INFINITY;
    const inside = truthM != null && truthM >= low && truthM <= high;
    if (inside) held++;
    return [
      row.dance_id.replace(/^.*-/, ''),
      row.bee_id ?? '',
      String(row.used_runs),
      row.mean_duration_s?.toFixed(3) ?? '',
      cell(row.distance_m),
      cell(row.distance_low_m),
      cell(row.distance_high_m),
      cell(truthM),
      inside ? 'yes' : 'no',
      row.note ?? '',
    ];
  });
  const header = [
    'dance',
    'bee',
    'runs',
    'mean s',
    'distance m',
    '95 % from',
    'to',
    'truth m',
    'within',
    'note',
  ];
  return `${textTable([header, ...rows])}\n\n${held} of ${rows.length} intervals hold the true distance.`;
}

function heading(text: string): void {
  process.stdout.write(`\n${text}\n${'─'.repeat(text.length)}\n`);
}

function say(text: string): void {
  process.stdout.write(`${text}\n`);
}
