import type { Command } from 'commander';
import type { AgreeOptions } from './agree-run.ts';

const example = `
Example:
  $ combtone agree --reference simulated/simulated-truth/trains.csv --found found/trains.csv
  compares two trains.csv; where each has a calls.csv beside it, the calls are compared too. Two rows are the
  same run when they share at least half of the time that either covers.
`;

/** Adds `combtone agree`: compares found with reference tables. */
export function registerAgree(program: Command): void {
  program
    .command('agree')
    .description('compare found with reference trains and calls: precision, recall, errors of time')
    .requiredOption('--reference <file>', 'trains.csv taken as true')
    .requiredOption('--found <file>', 'trains.csv to be judged')
    .option('--json', 'print the comparison as JSON')
    .addHelpText('after', example)
    .action(async (options: AgreeOptions) => {
      const { runAgree } = await import('./agree-run.ts');
      await runAgree(options);
    });
}
