import type { Command } from 'commander';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';
import type { BackupOptions, CheckOptions } from './study-keep-run.ts';

/** Adds `combtone study check`: exit 0 for a sound study, 1 for one with a fault. */
export function registerCheck(study: Command): void {
  addStudyArgument(
    study
      .command('check')
      .description(
        'look a study through: its store, its tables, the bytes of its recordings; exit 1 for a fault',
      ),
  )
    .option(
      '--rebuild',
      'where sounds and dances are not as the events make them, make them again, after a copy',
    )
    .option('--json', 'print what was found as JSON')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone study check --study summer',
        'says what is sound and what is not: before a season, after a crash, before an analysis',
      ),
    )
    .action(async (argument: string | undefined, options: CheckOptions) => {
      const folder = studyOf(argument, options.study);
      const { runCheck } = await import('./study-keep-run.ts');
      await runCheck(folder, options);
    });
}

/** Adds `combtone study backup`. */
export function registerBackup(study: Command): void {
  addStudyArgument(
    study
      .command('backup')
      .description('copy a study, all but its recordings, into a new folder; others may go on reviewing'),
  )
    .requiredOption('--out <folder>', 'the copy, a study itself; must not be there yet')
    .option('--json', 'print what was copied as JSON')
    .addHelpText(
      'after',
      exampleOf('$ combtone study backup --study summer --out summer-backup', 'the copy is a study itself'),
    )
    .action(async (argument: string | undefined, options: BackupOptions) => {
      const folder = studyOf(argument, options.study);
      const { runBackup } = await import('./study-keep-run.ts');
      await runBackup(folder, options);
    });
}
