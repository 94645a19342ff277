import { writeWhole } from '../study/csv.ts';
import { studyReport } from '../study/report/study-report.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { tellStale } from './stale-calibration.ts';

export interface ReportOptions {
  readonly study: string;
  readonly out?: string;
  readonly level: number;
  readonly json?: boolean;
}

/** Writes a study as one page, and prints where. @param out the page */
export async function runReport(out: string, options: ReportOptions): Promise<void> {
  const study = await openStudy(options.study, true);
  try {
    tellStale(study);
    const page = await studyReport(studyView(study, await readPlaces(study)), options.study, options.level);
    await writeWhole(out, page);
    const told = { file: out, bytes: Buffer.byteLength(page) };
    process.stdout.write(options.json ? `${JSON.stringify(told, null, 2)}\n` : `Written: ${out}\n`);
  } finally {
    study.store.close();
  }
}
