import { join } from 'node:path';
import type { Command } from 'commander';
import { writeWhole } from '../study/csv.ts';
import { studyReport } from '../study/report/study-report.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { levelOf } from './numbers.ts';

interface ReportOptions {
  readonly study: string;
  readonly out?: string;
  readonly level: number;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone report --study summer --out summer.html
  one page that holds all it needs, to be read in a browser and printed: recordings and review, calibration, distances
  and bearings, treatments compared, map, dances over the day, a methods paragraph with versions and settings, cautions.
  $ combtone report --study summer
  the same as summer/report.html; an earlier page of that name is replaced
`;

/** Where the page goes when nobody says: in the study's folder, beside its tables. */
const defaultName = 'report.html';

/** Adds `combtone report`: a study as one HTML page. */
export function registerReport(program: Command): void {
  program
    .command('report')
    .description('write a study as one HTML page with figures, tables and methods')
    .requiredOption('--study <folder>', 'the study')
    .option('--out <file>', `page to write, HTML (default: ${defaultName} in the study's folder)`)
    .option('--level <share>', 'probability of the intervals, between 0 and 1', levelOf, 0.95)
    .option('--json', 'print what was written as JSON')
    .addHelpText('after', example)
    .action(async (options: ReportOptions) => {
      const out = options.out ?? join(options.study, defaultName);
      const study = await openStudy(options.study, true);
      try {
        const page = await studyReport(
          studyView(study, await readPlaces(study)),
          options.study,
          options.level,
        );
        await writeWhole(out, page);
        const told = { file: out, bytes: Buffer.byteLength(page) };
        process.stdout.write(options.json ? `${JSON.stringify(told, null, 2)}\n` : `Written: ${out}\n`);
      } finally {
        study.store.close();
      }
    });
}
