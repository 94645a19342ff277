import { oneLine } from '../input-error.ts';
import { openStudy } from '../study/study-folder.ts';
import { mergeFound } from '../study/study-shard.ts';
import { studyDetectionText } from '../study/study-text.ts';
import { type SearchOptions, searchWanted } from './detect-options.ts';

const MOST_NAMED = 10;

export type MergeOptions = SearchOptions & { readonly study?: string; readonly json?: boolean };

/**
 * Takes in what the shards of a detection found, and prints it.
 *
 * @returns exit code: 1 where some recording is still missing, 2 where a file of a shard cannot be used
 */
export async function runMerge(folder: string, options: MergeOptions): Promise<number> {
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
