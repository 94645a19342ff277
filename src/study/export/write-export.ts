import { mkdir, stat } from 'node:fs/promises';
import { join, sep } from 'node:path';
import type { z } from 'zod';
import { InputError } from '../../input-error.ts';
import { formatCalibration } from '../calibration-record.ts';
import { formatTable, writeWhole } from '../csv.ts';
import { storeHistory } from '../store/history.ts';
import { allRecordings } from '../store/recordings.ts';
import { stateNow } from '../store/state.ts';
import { type StudyFindings, studyFindings } from '../study-findings.ts';
import type { StudyView } from '../study-view.ts';
import { combtoneVersion } from '../version.ts';
import { dictionaryRows, dictionarySchema, dictionaryText } from './dictionary.ts';
import { settingsFileName } from './import-study.ts';
import { placesGeoJson } from './places-geojson.ts';
import { calibrationFile, exportTables } from './rows.ts';
import { type ExportTables, exportSchemas, type TableName } from './schemas.ts';
import { webVtt } from './webvtt.ts';

/** What an export wrote. */
export interface Exported {
  readonly files: readonly string[];
  readonly rowCounts: Readonly<Record<TableName, number>>;
}

/**
 * Writes a study into a folder: every table as CSV, all of them as JSON, a data dictionary, GeoJSON of the places,
 * WebVTT cues of each recording. The same study gives the same bytes.
 *
 * @param folder made where it is not there; files of an earlier export are replaced
 */
export async function writeExport(folder: string, view: StudyView): Promise<Exported> {
  const findings = studyFindings(view);
  const tables = await exportTables(view, findings);
  const files = exportFiles(view, findings, tables);
  await makeFolder(folder);
  await makeFolder(join(folder, 'cues'));
  for (const [name, content] of files) await writeWhole(join(folder, name), content);
  const rowCounts = Object.fromEntries(
    Object.entries(tables).map(([name, rows]) => [name, rows.length]),
  ) as Record<TableName, number>;
  return { files: [...files.keys()].map((name) => join(folder, name)), rowCounts };
}

function exportFiles(view: StudyView, findings: StudyFindings, tables: ExportTables): Map<string, string> {
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
  files.set('study-tables.json', `${JSON.stringify(jsonOf(view, tables), null, 1)}\n`);
  files.set('places.geojson', `${JSON.stringify(placesGeoJson(study, findings), null, 1)}\n`);
  const sounds = [...stateNow(study.store).sounds.values()];
  for (const recording of allRecordings(study.store)) {
    const own = sounds
      .filter(({ recordingId }) => recordingId === recording.id)
      .sort((a, b) => a.startS - b.startS || (a.id < b.id ? -1 : 1));
    files.set(join('cues', `${fileName(recording.stem)}.vtt`), webVtt(recording, own));
  }
  return files;
}

/** A stem as a file's name: a study from elsewhere may hold one that would lead out of the folder. */
function fileName(stem: string): string {
  return stem.replaceAll(/[/\0]/g, '_').replaceAll(sep, '_').replace(/^\.+$/, '_');
}

/** All tables as one object; null where a cell is empty. Pulses and events are only in their tables: they are long. */
function jsonOf({ study }: StudyView, { pulses: _, events: __, ...tables }: ExportTables): object {
  return {
    format: 'combtone study tables',
    formatVersion: 1,
    combtoneVersion,
    settings: study.settings,
    ...tables,
  };
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
