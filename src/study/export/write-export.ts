import type { z } from 'zod';
import { formatCalibration } from '../calibration-record.ts';
import { formatTable, tableParts } from '../csv.ts';
import { studyArrivals } from '../day/arrivals.ts';
import { danceTeller } from '../estimates.ts';
import { calibrationsEverSaved } from '../store/long-reads.ts';
import { studyFindings, type TellDistances } from '../study-findings.ts';
import { readGivenPlaces } from '../study-folder.ts';
import type { StudyView } from '../study-view.ts';
import { dictionaryRows, dictionarySchema, dictionaryText } from './dictionary.ts';
import type { ExportContents } from './export-format.ts';
import { exportFormats } from './formats.ts';
import { settingsFileName } from './import-study.ts';
import { calibrationFile, exportTables } from './rows.ts';
import { exportSchemas, type TableName } from './schemas.ts';
import { type FileText, writeFiles } from './write-files.ts';

/** What an export wrote. */
export interface Exported {
  readonly files: readonly string[];
  readonly rowCounts: Readonly<Record<TableName, number>>;
}

/**
 * Writes a study into a folder: every table as CSV, its calibrations, a data dictionary, and every format of
 * `formats.ts`. The same study gives the same bytes. The long tables go row by row from the store into their files, so
 * that memory grows with the dances but not with trains, pulses and events. All is of the moment at which it began,
 * whatever others write meanwhile.
 *
 * @param folder made where it is not there; files of an earlier export are replaced, once all new ones are written
 */
export async function writeExport(folder: string, view: StudyView): Promise<Exported> {
  const { study, places } = view;
  const feederIds = places.feeders.map(({ feederId }) => feederId);
  const given = { places: await readGivenPlaces(study), arrivals: await studyArrivals(study, feederIds) };
  const rowCounts = {} as Record<TableName, number>;
  const write = study.store.transaction(() => {
    const findings = studyFindings(view, undefined, rowsAlone);
    const tables = exportTables(view, findings, given);
    return writeFiles(folder, exportFiles({ view, findings, tables }, rowCounts));
  });
  return { files: write(), rowCounts };
}

/** An export has no use for the posteriors, which for all dances at once take much memory. */
const rowsAlone: TellDistances = (record, dances, level) => {
  const tell = danceTeller(record);
  return dances.map((dance) => ({ row: tell(dance, level).row, estimate: undefined }));
};

/** @param rowCounts is told how many rows each table had when it has been gone through */
function* exportFiles(contents: ExportContents, rowCounts: Record<TableName, number>): Generator<FileText> {
  const { view, tables } = contents;
  const { study } = view;
  for (const name of Object.keys(tables) as TableName[]) {
    const schema = exportSchemas[name] as unknown as z.ZodObject<z.ZodRawShape>;
    const rows: Iterable<object> = tables[name];
    const tell = (count: number) => {
      rowCounts[name] = count;
    };
    yield [`${name}.csv`, tableParts(schema, counted(rows as Iterable<z.infer<typeof schema>>, tell))];
  }
  for (const { id, record } of calibrationsEverSaved(study.store)) {
    yield [calibrationFile(id), formatCalibration(record)];
  }
  yield [settingsFileName, `${JSON.stringify(study.settings, null, 2)}\n`];
  yield ['data-dictionary.csv', formatTable(dictionarySchema, dictionaryRows())];
  yield ['data-dictionary.md', dictionaryText()];
  for (const format of exportFormats) yield* format(contents);
}

function* counted<R>(rows: Iterable<R>, tell: (count: number) => void): Generator<R> {
  let count = 0;
  for (const row of rows) {
    count++;
    yield row;
  }
  tell(count);
}
