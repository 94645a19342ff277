import type { Command } from 'commander';
import { oneLine } from '../input-error.ts';
import { openStudy } from '../study/study-folder.ts';
import { mergeFound } from '../study/study-shard.ts';
import { studyDetectionText } from '../study/study-text.ts';
import { addSearchOptions, type SearchOptions, searchWanted } from './detect-options.ts';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';

const MOST_NAMED = 10;

type MergeOptions = SearchOptions & { readonly study?: string; readonly json?: boolean };

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
    .action(async (folder: string | undefined, options: MergeOptions) => {
      process.exitCode = await mergeShards(studyOf(folder, options.study), options);
    });
}

/** @returns exit code: 1 where some recording is still missing, 2 where a file of a shard cannot be used */
async function mergeShards(folder: string, options: MergeOptions): Promise<number> {
  const study = await openStudy(folder);
  try {
    const { done, already, missing, failures } = await mergeFound(study, searchWanted(options));
    for (const failure of failures) process.stderr.write(`combtone: ${failure.message}\n`);
    for (const { path } of missing.slice(0, MOST_NAMED)) {
      process.stderr.write(`combtone: ${oneLine(path)}: not searched by any shard yet\n`);
    }
    const more = missing.length - MOST_NAMED;
    if (more > 0) process.stderr.write(`combtone: and ${more} more recordings\n`);
    const told = done.map(({ recording, detection }) => ({ recording: recording.path, ...detection }));
    process.stdout.write(
      options.json
        ? `${JSON.stringify({ detected: told, already, missing: missing.map(({ path }) => path) }, null, 2)}\n`
        : `${studyDetectionText(done, already)}\n`,
    );
    return failures.length > 0 ? 2 : missing.length > 0 ? 1 : 0;
  } finally {
    study.store.close();
  }
}
