import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import type { Span } from '../study/export/excerpt.ts';
import type { ExportOptions } from './export-run.ts';

const example = `
Example:
  $ combtone export --study summer --out summer-tables
  writes into the folder summer-tables
    recordings.csv, trains.csv, calls.csv, dances.csv, feeders.csv, events.csv ... and data-dictionary.md,
    which says what each column means; study-tables.json, the same for programs
    places.geojson        hive, feeders and the places that dances tell of
    cues/RECORDING.vtt    WebVTT cues of the sounds in each recording
  $ combtone export --study summer --recording hive-20310614_093000 --excerpt 120-150 --out excerpt.wav
  copies half a minute of a recording, its runs and calls marked and labelled in the WAVE file itself.
  combtone study import makes a study of an exported one.
`;

/** Adds `combtone export`: a study as tables and files that other programs read. */
export function registerExport(program: Command): void {
  program
    .command('export')
    .description('write a study as tables, GeoJSON and cues, or an excerpt of a recording with labels')
    .requiredOption('--study <folder>', 'the study')
    .requiredOption('--out <path>', 'folder for the tables, or the WAVE file of an excerpt')
    .option('--excerpt <start-end>', 'write this stretch of a recording, in seconds from its start', spanOf)
    .option('--recording <name>', 'recording of the excerpt, where the study has several')
    .option('--json', 'print what was written as JSON')
    .addHelpText('after', example)
    .action(async (options: ExportOptions) => {
      refuseRecordingAlone(options);
      const { runExport } = await import('./export-run.ts');
      await runExport(options);
    });
}

function refuseRecordingAlone({ excerpt, recording }: ExportOptions): void {
  if (excerpt === undefined && recording !== undefined) {
    throw new InputError({
      file: '--recording',
      found: 'a recording without a stretch',
      wanted: '--excerpt too',
    });
  }
}

function spanOf(text: string): Span {
  const [, start, end] = /^\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*$/.exec(text) ?? [];
  const span = { startS: Number(start), endS: Number(end) };
  if (span.endS > span.startS) return span;
  throw new InputError({
    file: '--excerpt',
    found: JSON.stringify(text),
    wanted: 'two times in seconds from the recording’s start, the earlier first, such as 120-150',
  });
}
