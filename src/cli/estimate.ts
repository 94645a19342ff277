import type { Command } from 'commander';
import type { DistancePrior } from '../calibration/distance-posterior.ts';
import { defaultPrior } from '../calibration/estimate.ts';
import { readCalibration } from '../study/calibration-record.ts';
import { estimatesText } from '../study/calibration-text.ts';
import { writeTable } from '../study/csv.ts';
import { estimates } from '../study/estimates.ts';
import { posteriorFigure } from '../study/figures/posterior-figure.ts';
import { neighbourhoodRows, neighbourhoodSchema, neighbourhoodsText } from '../study/neighbourhoods.ts';
import { readObservations } from '../study/observations.ts';
import { estimateSchema } from '../study/tables.ts';
import { drawFigures } from './figures.ts';
import { levelOf, rangeOf } from './numbers.ts';

interface EstimateOptions {
  readonly calibration: string;
  readonly observations: string;
  readonly level: number;
  readonly prior: DistancePrior;
  readonly feeders?: string;
  readonly out?: string;
  readonly figures?: string;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone estimate --calibration calibration.json --observations foraging.csv --out estimates.csv
  gives each dance a distance with its 95 % interval; foraging.csv has one row per run:
    bee_id,dance_id,duration_s
    ,f01,1.12
    ,f01,1.07
    ...
`;

/** Adds `combtone estimate`: distances, with intervals, of dances to unknown places. */
export function registerEstimate(program: Command): void {
  program
    .command('estimate')
    .description('estimate the distances of dances to unknown places, with intervals')
    .requiredOption('--calibration <file>', 'calibration written by combtone calibrate')
    .requiredOption('--observations <file>', 'table of runs, CSV')
    .option('--level <share>', 'probability of the intervals, between 0 and 1', levelOf, 0.95)
    .option(
      '--prior <metres>',
      'distances thought of, all as likely before a dance is read',
      rangeOf('--prior'),
      defaultPrior,
    )
    .option('--out <file>', 'table of estimates to write, CSV')
    .option('--feeders <file>', 'table to write of the probability within each feeder’s neighbourhood, CSV')
    .option('--figures <folder>', 'folder for a figure of each dance’s posterior, HTML and SVG')
    .option('--json', 'print the estimates as JSON')
    .addHelpText('after', example)
    .action(async (options: EstimateOptions) => {
      const record = await readCalibration(options.calibration);
      const { dances } = await readObservations(options.observations, 'estimating');
      const { level, prior } = options;
      const told = estimates(record, dances, level, { prior });
      const rows = told.map(({ row }) => estimateSchema.parse(row));
      const near = neighbourhoodRows(record, told);
      if (options.out !== undefined) await writeTable(options.out, estimateSchema, rows);
      if (options.feeders !== undefined) await writeTable(options.feeders, neighbourhoodSchema, near);
      const drawn = await drawFigures(options.figures, 'posteriors', () =>
        told.flatMap(({ row, estimate }) =>
          estimate === undefined ? [] : (posteriorFigure(row.dance_id, estimate) ?? []),
        ),
      );
      const written = [options.out, options.feeders].flatMap((file) => (file === undefined ? [] : [file]));
      process.stdout.write(
        options.json
          ? `${JSON.stringify(rows, null, 2)}\n`
          : `${estimatesText(rows)}\n${neighbourhoodsText(near)}${written.map((file) => `\nWritten: ${file}`).join('')}${written.length > 0 ? '\n' : ''}${drawn}`,
      );
    });
}
