import type { Command } from 'commander';
import { writeWhole } from '../study/csv.ts';
import { studyReport } from '../study/report/study-report.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { levelOf } from './numbers.ts';

interface ReportOptions {
  readonly study: string;
  readonly out: string;
  readonly level: number;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone report --study summer --out summer.html
  one page that holds all it needs, to be read in a browser and printed: recordings and review, calibration, distances
  and bearings, map, dances over the day, a methods paragraph with versions and settings, cautions.
`;

/** Adds `combtone report`: a study as one HTML page. */
export function registerReport(program: Command): void {
  program
    .command('report')
    .description('write a study as one HTML page with figures, tables and methods')
    .requiredOption('--study <folder>', 'the study')
    .requiredOption('--out <file>', 'page to write, HTML')
    .option('--level <share>', 'probability of the intervals, between 0 and 1', levelOf, 0.95)
    .option('--json', 'print what was written as JSON')
    .addHelpText('after', example)
    .action(async (options: ReportOptions) => {
      const study = await openStudy(options.study, true);
      try {
        const page = await studyReport(
          studyView(study, await readPlaces(study)),
          options.study,
          options.level,
        );
        await writeWhole(options.out, page);
        const told = { file: options.out, bytes: Buffer.byteLength(page) };
        process.stdout.write(
          options.json ? `${JSON.stringify(told, null, 2)}\n` : `Written: ${options.out}\n`,
        );
      } finally {
        study.store.close();
      }
    });
}
