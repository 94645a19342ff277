import { leastHalfWidth, planDesign } from '../calibration/plan.ts';
import { InputError } from '../input-error.ts';
import { seededRandom } from '../random.ts';
import { fromMeasureRecord, readCalibration } from '../study/calibration-record.ts';
import { writeWhole } from '../study/csv.ts';
import { planReport, planText } from '../study/plan-text.ts';
import { progressLine } from './progress.ts';

export interface PlanOptions {
  readonly calibration: string;
  readonly distance: number;
  readonly within: number;
  readonly feeders: readonly number[];
  readonly bees: readonly number[];
  readonly dances: readonly number[];
  readonly runs: number;
  readonly newRuns: number;
  readonly level: number;
  readonly studies: number;
  readonly seed: number;
  readonly out?: string;
  readonly json?: boolean;
}

/** Simulates studies of every design asked for, and writes and prints what they would tell. */
export async function runPlan(options: PlanOptions): Promise<void> {
  const record = await readCalibration(options.calibration);
  if (record.duration === null) {
    throw new InputError({
      file: options.calibration,
      found: 'no calibration of run duration',
      wanted: 'one of run duration',
    });
  }
  const report = planned(options, fromMeasureRecord(record.duration));
  const json = `${JSON.stringify(report, null, 2)}\n`;
  if (options.out !== undefined) await writeWhole(options.out, json);
  const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
  process.stdout.write(options.json ? json : `${planText(report)}${written}`);
}

function planned(options: PlanOptions, pilot: ReturnType<typeof fromMeasureRecord>) {
  const { feeders, bees, dances, level, runs, newRuns, studies, seed } = options;
  const least = pilot.parameters.length;
  const tooFew = feeders.find((count) => count < least);
  if (tooFew !== undefined) {
    throw new InputError({
      file: '--feeders',
      found: String(tooFew),
      wanted: `${least} or more, for the pilot’s ${pilot.curve} curve`,
    });
  }
  const plan = {
    distanceM: options.distance,
    halfWidthM: options.within,
    level,
    runs,
    newRuns,
    studies,
  };
  const designs = feeders.flatMap((count) =>
    bees.flatMap((bee) => dances.map((dance) => ({ feeders: count, bees: bee, dances: dance }))),
  );
  const progress = progressLine();
  const outcomes = designs.map((design, i) => {
    progress('Simulating studies', i / designs.length);
    // Each design has random numbers of its own, so that adding one to the list changes none of the others.
    const own = seed + 1_000_003 * design.feeders + 1009 * design.bees + design.dances;
    return planDesign(pilot, design, plan, seededRandom(own));
  });
  progress('Simulating studies', 1);
  return planReport(plan, leastHalfWidth(pilot, plan), outcomes);
}
