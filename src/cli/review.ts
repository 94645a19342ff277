import type { Command } from 'commander';
import { portOf } from './numbers.ts';
import type { ReviewOptions } from './review-run.ts';

const example = `
Example:
  $ combtone review --study summer
  prints an address with a token and opens it in the browser. Whoever has the address may review; the page loads
  nothing from elsewhere. Ends with Ctrl-C; every edit is on disk by then.
`;

/** Adds `combtone review`: the review page of a study. */
export function registerReview(program: Command): void {
  program
    .command('review')
    .description('look at, hear and correct what was detected, in the browser')
    .requiredOption('--study <folder>', 'the study')
    .option('--port <n>', 'port to listen on; 0 for any that is free', portOf, 0)
    .option(
      '--host <name>',
      'address to listen on; others than the default open it to a network',
      '127.0.0.1',
    )
    .option('--read-only', 'refuse every edit')
    .option('--no-open', 'only print the address')
    .addHelpText('after', example)
    .action(async (options: ReviewOptions) => {
      const { runReview } = await import('./review-run.ts');
      await runReview(options);
    });
}
