import { join } from 'node:path';
import type { Command } from 'commander';
import { writeTable } from '../study/csv.ts';
import { daySources } from '../study/day/day-sources.ts';
import { arrivalLatencySchema, dayDanceSchema, dayHourSchema } from '../study/day/day-tables.ts';
import { dayText } from '../study/day/day-text.ts';
import { defaultWindowMin, type StudyDay, studyDay } from '../study/day/study-day.ts';
import { dayFigures } from '../study/figures/day-figures.ts';
import { makeFolder } from '../study/make-folder.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { drawFigures } from './figures.ts';
import { between } from './numbers.ts';

interface DayOptions {
  readonly study: string;
  readonly window: number;
  readonly out?: string;
  readonly figures?: string;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone day --study summer --figures summer-day
  dances by the hour, and whether clock and comb fit the sun: over the day the comb angle of dances to one place must
  turn as the sun does. With bees that came to feeders in summer/arrivals.csv
    time,feeder_id,mark
    2031-06-14T10:12:30+02:00,alder,
  their arrivals are set against the dances before them.
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
    .action(runDay);
}

async function runDay(options: DayOptions): Promise<void> {
  const study = await openStudy(options.study, true);
  try {
    const view = studyView(study, await readPlaces(study));
    const findings = studyFindings(view);
    const day = await studyDay(view, findings, options.window);
    const written = options.out === undefined ? [] : await writeTables(options.out, day);
    const drawn = await drawFigures(options.figures, 'day', () =>
      dayFigures(day.dances, day.hours, day.arrivals, daySources(view, findings)),
    );
    const listed = written.map((file) => `Written: ${file}\n`).join('');
    process.stdout.write(
      options.json ? `${JSON.stringify(day, null, 2)}\n` : `${dayText(day)}${listed}${drawn}`,
    );
  } finally {
    study.store.close();
  }
}

async function writeTables(folder: string, day: StudyDay): Promise<string[]> {
  makeFolder(folder);
  const at = (name: string) => join(folder, name);
  await writeTable(at('day_dances.csv'), dayDanceSchema, day.dances);
  await writeTable(at('day_hours.csv'), dayHourSchema, day.hours);
  await writeTable(at('day_arrivals.csv'), arrivalLatencySchema, day.arrivals);
  return ['day_dances.csv', 'day_hours.csv', 'day_arrivals.csv'].map(at);
}
