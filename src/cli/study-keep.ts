import { basename } from 'node:path';
import type { Command } from 'commander';
import { backupStudy } from '../study/study-backup.ts';
import { checkStudy, rebuildRows } from '../study/study-check.ts';
import { backupText, checkText } from '../study/study-keep-text.ts';
import { progressLine } from './progress.ts';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';

interface CheckOptions {
  readonly study?: string;
  readonly rebuild?: boolean;
  readonly json?: boolean;
}

interface BackupOptions {
  readonly study?: string;
  readonly out: string;
  readonly json?: boolean;
}

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
    .action(check);
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
    .action(backup);
}

async function check(argument: string | undefined, options: CheckOptions): Promise<void> {
  const folder = studyOf(argument, options.study);
  const copy = options.rebuild ? rebuildRows(folder) : null;
  const progress = progressLine();
  try {
    const found = await checkStudy(folder, (path, share) => progress(basename(path), share));
    progress('', 1);
    const rebuilt = copy === null ? '' : `Rows made again of the events; the store as it was: ${copy}\n\n`;
    process.stdout.write(
      options.json
        ? `${JSON.stringify({ ...found, rebuiltAfterCopy: copy }, null, 2)}\n`
        : `${rebuilt}${checkText(found)}\n`,
    );
    process.exitCode = found.sound ? 0 : 1;
  } finally {
    progress('', 1);
  }
}

async function backup(argument: string | undefined, options: BackupOptions): Promise<void> {
  const folder = studyOf(argument, options.study);
  const progress = progressLine();
  try {
    const made = await backupStudy(folder, options.out, (share) => progress('study.sqlite', share));
    progress('', 1);
    process.stdout.write(options.json ? `${JSON.stringify(made, null, 2)}\n` : `${backupText(made)}\n`);
  } finally {
    progress('', 1);
  }
}
