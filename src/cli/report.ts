import { join } from 'node:path';
import type { Command } from 'commander';
import { levelOf } from './numbers.ts';
import type { ReportOptions } from './report-run.ts';

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
      const { runReport } = await import('./report-run.ts');
      await runReport(options.out ?? join(options.study, defaultName), options);
    });
}
