import type { Command } from 'commander';
import type { DemoOptions } from './demo-run.ts';
import { portOf } from './numbers.ts';

const example = `
Example:
  $ combtone demo --out combtone-demo
  makes two simulated recordings, detects, calibrates and estimates, and leaves every file it made in
  combtone-demo, so that each step can be repeated with the command that the demo names. At the end it serves the
  review page on a study of it all and prints the address; Ctrl-C ends it.
`;

/** Adds `combtone demo`: the whole job on a simulated study. */
export function registerDemo(program: Command): void {
  program
    .command('demo')
    .description('simulate a study, do the whole job on it, serve the review page')
    .option('--out <folder>', 'folder for the files; those of an earlier demo are replaced', 'combtone-demo')
    .option('--port <n>', 'port of the review page; where it is taken, any that is free', portOf, 0)
    .option('--no-serve', 'end when all is printed, without the review page')
    .addHelpText('after', example)
    .action(async (options: DemoOptions) => {
      const { runDemo } = await import('./demo-run.ts');
      await runDemo(options);
    });
}
