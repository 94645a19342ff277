import { type Command, Option } from 'commander';
import { defaultSeed } from '../calibration/defaults.ts';
import { levelOf, numbersOf, wholeOf } from './numbers.ts';
import type { PlanOptions } from './plan-run.ts';

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
    .action(async (options: PlanOptions) => {
      const { runPlan } = await import('./plan-run.ts');
      await runPlan(options);
    });
}
