import { counted } from '../study/counted.ts';
import { exportExcerpt, type Span } from '../study/export/excerpt.ts';
import { writeExport } from '../study/export/write-export.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { textTable } from '../study/text-table.ts';

export interface ExportOptions {
  readonly study: string;
  readonly out: string;
  readonly excerpt?: Span;
  readonly recording?: string;
  readonly json?: boolean;
}

/** Writes what of a study was asked for, and prints what that is. */
export async function runExport(options: ExportOptions): Promise<void> {
  const { excerpt, out, json } = options;
  const study = await openStudy(options.study, true);
  try {
    if (excerpt !== undefined) {
      const { recording, marks, startTime } = await exportExcerpt(study, options.recording, excerpt, out);
      const told = { recording: recording.path, ...excerpt, startTime, marks, file: out };
      process.stdout.write(
        json
          ? `${JSON.stringify(told, null, 2)}\n`
          : `Written: ${out}, ${excerpt.startS} to ${excerpt.endS} s of ${recording.path}` +
              `${startTime === null ? '' : ` (from ${startTime})`}, ${counted(marks, 'sound')} marked\n`,
      );
      return;
    }
    const { files, rowCounts } = await writeExport(out, studyView(study, await readPlaces(study)));
    const rows = Object.entries(rowCounts).map(([name, count]) => [name, String(count)]);
    process.stdout.write(
      json
        ? `${JSON.stringify({ rows: rowCounts, files }, null, 2)}\n`
        : `${textTable([['table', 'rows'], ...rows])}\n\nWritten: ${files.length} files in ${out}\n`,
    );
  } finally {
    study.store.close();
  }
}
