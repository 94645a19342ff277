import type { Command } from 'commander';
import { defaultWindowMin } from '../study/day/arrival-window.ts';
import type { DayOptions } from './day-run.ts';
import { between } from './numbers.ts';

const example = `
Example:
  $ combtone day --study summer --figures summer-day
  dances by the hour, and whether clock and comb fit the sun: over the day the comb angle of dances to one place must
  turn as the sun does. With bees that came to feeders in summer/arrivals.csv
    time,feeder_id,mark
    2031-06-14T10:12:30+02:00,alder,
  their arrivals are set against the dances before them.
  $ combtone day --study summer --out day
  writes day/day_dances.csv with every dance and its time, beside day/day_hours.csv and day/day_arrivals.csv.
`;

/** Adds `combtone day`: what a study shows over the day. */
export function registerDay(program: Command): void {
  program
    .command('day')
    .description('show dances over the day, check clock and comb by the sun, set arrivals against dances')
    .requiredOption('--study <folder>', 'the study')
    .option(
      '--window <min>',
      'minutes before an arrival in which dances are looked for',
      between('--window', 1, 1440),
      defaultWindowMin,
    )
    .option('--out <folder>', 'folder for the tables day_dances.csv, day_hours.csv and day_arrivals.csv')
    .option('--figures <folder>', 'folder for figures, HTML and SVG')
    .option('--json', 'print it as JSON')
    .addHelpText('after', example)
    .action(async (options: DayOptions) => {
      const { runDay } = await import('./day-run.ts');
      await runDay(options);
    });
}
