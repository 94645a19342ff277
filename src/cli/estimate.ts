import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import { readCalibration } from '../study/calibration-record.ts';
import { estimatesText } from '../study/calibration-text.ts';
import { writeTable } from '../study/csv.ts';
import { estimateRows } from '../study/estimates.ts';
import { readObservations } from '../study/observations.ts';
import { estimateSchema } from '../study/tables.ts';

interface EstimateOptions {
  readonly calibration: string;
  readonly observations: string;
  readonly level: number;
  readonly out?: string;
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
    .option('--out <file>', 'table of estimates to write, CSV')
    .option('--json', 'print the estimates as JSON')
    .addHelpText('after', example)
    .action(async (options: EstimateOptions) => {
      const record = await readCalibration(options.calibration);
      const { dances } = await readObservations(options.observations, 'estimating');
      const rows = estimateRows(record, dances, options.level).map((row) => estimateSchema.parse(row));
      if (options.out !== undefined) await writeTable(options.out, estimateSchema, rows);
      const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
      process.stdout.write(
        options.json ? `${JSON.stringify(rows, null, 2)}\n` : `${estimatesText(rows)}${written}`,
      );
    });
}

function levelOf(text: string): number {
  const level = text.trim() === '' ? Number.NaN : Number(text);
  if (level > 0 && level < 1) return level;
  throw new InputError({
    file: '--level',
    found: JSON.stringify(text),
    wanted: 'a share between 0 and 1, such as 0.95',
  });
}
