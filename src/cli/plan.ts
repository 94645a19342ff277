import { type Command, Option } from 'commander';
import { defaultSeed } from '../calibration/calibrate.ts';
import { leastHalfWidth, planDesign } from '../calibration/plan.ts';
import { InputError } from '../input-error.ts';
import { seededRandom } from '../random.ts';
import { fromMeasureRecord, readCalibration } from '../study/calibration-record.ts';
import { writeWhole } from '../study/csv.ts';
import { planReport, planText } from '../study/plan-text.ts';
import { levelOf, numbersOf, wholeOf } from './numbers.ts';
import { progressLine } from './progress.ts';

interface PlanCommandOptions {
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

const example = `
Example:
  $ combtone plan --calibration pilot.json --distance 800 --within 250
  simulates studies like the pilot with more and fewer feeders, bees and dances, and says which of them tell a
  dance at 800 m to within 250 m on either side.
`;

/** An option of several numbers, with commas between them. */
function numbersToTry(
  name: string,
  of: string,
  lowest: number,
  highest: number,
  usual: readonly number[],
): Option {
  return new Option(`${name} <n,n,...>`, `numbers of ${of}`)
    .argParser(numbersOf(name, lowest, highest))
    .default(usual, usual.join(','));
}

/** Adds `combtone plan`: how large a calibration study must be. */
export function registerPlan(program: Command): void {
  program
    .command('plan')
    .description('tell how many feeders, bees and dances a calibration needs, by simulation from a pilot')
    .requiredOption('--calibration <file>', 'pilot calibration written by combtone calibrate')
    .requiredOption(
      '--distance <metres>',
      'distance of the dance to be told, m',
      wholeOf('--distance', 1, 100_000),
    )
    .requiredOption(
      '--within <metres>',
      'half-width of the interval wanted, m',
      wholeOf('--within', 1, 100_000),
    )
    .addOption(numbersToTry('--feeders', 'feeders to try', 2, 50, [4, 6]))
    .addOption(numbersToTry('--bees', 'bees to try', 2, 200, [5, 10, 20]))
    .addOption(numbersToTry('--dances', 'dances of each bee at each feeder to try', 1, 50, [1, 2, 4]))
    .option('--runs <number>', 'used runs of each dance of the study', wholeOf('--runs', 1, 100), 5)
    .option('--new-runs <number>', 'used runs of the dance to be told', wholeOf('--new-runs', 1, 100), 5)
    .option('--level <share>', 'probability of the interval, between 0 and 1', levelOf, 0.95)
    .option('--studies <number>', 'simulated studies of each design', wholeOf('--studies', 5, 10_000), 40)
    .option('--seed <number>', 'seed of the simulation', wholeOf('--seed', 0, 2 ** 31 - 1), defaultSeed)
    .option('--out <file>', 'plan to write, JSON')
    .option('--json', 'print the plan as JSON')
    .addHelpText('after', example)
    .action(async (options: PlanCommandOptions) => {
      const record = await readCalibration(options.calibration);
      if (record.duration === null) {
        throw new InputError({
          file: options.calibration,
          found: 'no calibration of run duration',
          wanted: 'one of run duration',
        });
      }
      const report = runPlan(options, fromMeasureRecord(record.duration));
      const json = `${JSON.stringify(report, null, 2)}\n`;
      if (options.out !== undefined) await writeWhole(options.out, json);
      const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
      process.stdout.write(options.json ? json : `${planText(report)}${written}`);
    });
}

function runPlan(options: PlanCommandOptions, pilot: ReturnType<typeof fromMeasureRecord>) {
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
  const planned = designs.map((design, i) => {
    progress('Simulating studies', i / designs.length);
    // Each design has random numbers of its own, so that adding one to the list changes none of the others.
    const own = seed + 1_000_003 * design.feeders + 1009 * design.bees + design.dances;
    return planDesign(pilot, design, plan, seededRandom(own));
  });
  progress('Simulating studies', 1);
  return planReport(plan, leastHalfWidth(pilot, plan), planned);
}
