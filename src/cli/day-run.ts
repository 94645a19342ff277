import { join } from 'node:path';
import { writeTable } from '../study/csv.ts';
import { daySources } from '../study/day/day-sources.ts';
import { arrivalLatencySchema, dayDanceSchema, dayHourSchema } from '../study/day/day-tables.ts';
import { dayText } from '../study/day/day-text.ts';
import { type StudyDay, studyDay } from '../study/day/study-day.ts';
import { dayFigures } from '../study/figures/day-figures.ts';
import { makeFolder } from '../study/make-folder.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { drawFigures } from './figures.ts';

export interface DayOptions {
  readonly study: string;
  readonly window: number;
  readonly out?: string;
  readonly figures?: string;
  readonly json?: boolean;
}

/** Writes and prints what a study shows over the day. */
export async function runDay(options: DayOptions): Promise<void> {
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
