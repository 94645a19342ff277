import type { Command } from 'commander';
import { addSearchOptions } from './detect-options.ts';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';
import type { MergeOptions } from './study-merge-run.ts';

/** Adds `combtone study merge`: takes in what the shards of a detection found. */
export function registerMerge(study: Command): void {
  const merge = addStudyArgument(
    study
      .command('merge')
      .description('take in what combtone detect --study DIR --shard i/n left, from every shard'),
  ).option('--json', 'print what was taken in as JSON');
  addSearchOptions(merge)
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone detect --study summer --shard 1/2     here, and',
        '$ combtone detect --study summer --shard 2/2     anywhere; when both are done:',
        '$ combtone study merge --study summer',
      ),
    )
    .action(async (argument: string | undefined, options: MergeOptions) => {
      const folder = studyOf(argument, options.study);
      const { runMerge } = await import('./study-merge-run.ts');
      process.exitCode = await runMerge(folder, options);
    });
}
