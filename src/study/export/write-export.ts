import { mkdir, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { z } from 'zod';
import { InputError } from '../../input-error.ts';
import { formatCalibration } from '../calibration-record.ts';
import { formatTable, writeWhole } from '../csv.ts';
import { storeHistory } from '../store/history.ts';
import { studyFindings } from '../study-findings.ts';
import type { StudyView } from '../study-view.ts';
import { dictionaryRows, dictionarySchema, dictionaryText } from './dictionary.ts';
import type { ExportContents } from './export-format.ts';
import { exportFormats } from './formats.ts';
import { settingsFileName } from './import-study.ts';
import { calibrationFile, exportTables } from './rows.ts';
import { exportSchemas, type TableName } from './schemas.ts';

/** What an export wrote. */
export interface Exported {
  readonly files: readonly string[];
  readonly rowCounts: Readonly<Record<TableName, number>>;
}

/**
 * Writes a study into a folder: every table as CSV, its calibrations, a data dictionary, and every format of
 * `formats.ts`. The same study gives the same bytes.
 *
 * @param folder made where it is not there; files of an earlier export are replaced
 */
export async function writeExport(folder: string, view: StudyView): Promise<Exported> {
  const findings = studyFindings(view);
  const tables = await exportTables(view, findings);
  const files = exportFiles({ view, findings, tables });
  const folders = new Set([...files.keys()].map((path) => dirname(join(folder, path))));
  for (const made of [folder, ...folders]) await makeFolder(made);
  for (const [name, content] of files) await writeWhole(join(folder, name), content);
  const rowCounts = Object.fromEntries(
    Object.entries(tables).map(([name, rows]) => [name, rows.length]),
  ) as Record<TableName, number>;
  return { files: [...files.keys()].map((name) => join(folder, name)), rowCounts };
}

function exportFiles(contents: ExportContents): Map<string, string> {
  const { view, tables } = contents;
  const { study } = view;
  const files = new Map<string, string>();
  for (const [name, rows] of Object.entries(tables)) {
    const schema = exportSchemas[name as TableName] as unknown as z.ZodObject<z.ZodRawShape>;
    files.set(`${name}.csv`, formatTable(schema, rows));
  }
  for (const { id, record } of storeHistory(study.store).calibrations) {
    files.set(calibrationFile(id), formatCalibration(record));
  }
  files.set(settingsFileName, `${JSON.stringify(study.settings, null, 2)}\n`);
  files.set('data-dictionary.csv', formatTable(dictionarySchema, dictionaryRows()));
  files.set('data-dictionary.md', dictionaryText());
  for (const format of exportFormats) {
    for (const [path, text] of format(contents)) files.set(path, text);
  }
  return files;
}

async function makeFolder(folder: string): Promise<void> {
  try {
    await mkdir(folder, { recursive: true });
    if ((await stat(folder)).isDirectory()) return;
  } catch (error) {
    const found = `a place that cannot be made a folder (${(error as NodeJS.ErrnoException).code})`;
    throw new InputError({ file: folder, found, wanted: 'a folder, or a place for one' });
  }
}
