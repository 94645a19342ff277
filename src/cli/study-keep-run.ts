import { basename } from 'node:path';
import { backupStudy } from '../study/study-backup.ts';
import { checkStudy, rebuildRows } from '../study/study-check.ts';
import { backupText, checkText } from '../study/study-keep-text.ts';
import { withProgress } from './progress.ts';

export interface CheckOptions {
  readonly study?: string;
  readonly rebuild?: boolean;
  readonly json?: boolean;
}

export interface BackupOptions {
  readonly study?: string;
  readonly out: string;
  readonly json?: boolean;
}

/** Looks a study through and prints what is sound and what is not; the exit code becomes 1 for a fault. */
export async function runCheck(folder: string, options: CheckOptions): Promise<void> {
  const copy = options.rebuild ? rebuildRows(folder) : null;
  const found = await withProgress((progress) =>
    checkStudy(folder, (path, share) => progress(basename(path), share)),
  );
  const rebuilt = copy === null ? '' : `Rows made again of the events; the store as it was: ${copy}\n\n`;
  process.stdout.write(
    options.json
      ? `${JSON.stringify({ ...found, rebuiltAfterCopy: copy }, null, 2)}\n`
      : `${rebuilt}${checkText(found)}\n`,
  );
  process.exitCode = found.sound ? 0 : 1;
}

/** Copies a study into a new folder, and prints what was copied. */
export async function runBackup(folder: string, options: BackupOptions): Promise<void> {
  const made = await withProgress((progress) =>
    backupStudy(folder, options.out, (share) => progress('study.sqlite', share)),
  );
  process.stdout.write(options.json ? `${JSON.stringify(made, null, 2)}\n` : `${backupText(made)}\n`);
}
