import { existsSync } from 'node:fs';
import { copyFile, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { InputError } from '../../input-error.ts';
import { appendEvent } from '../store/events.ts';
import { continueIds, restoreHistory } from '../store/history.ts';
import type { Store } from '../store/open-store.ts';
import { moveRecording } from '../store/recordings.ts';
import type { Change, DanceState, RowStates, SoundState } from '../store/rows.ts';
import { danceState, soundState } from '../store/rows.ts';
import { stateNow } from '../store/state.ts';
import { feedersFile, fieldTables, openingsFile, studyFiles } from '../study-files.ts';
import { initStudy, openStudy } from '../study-folder.ts';
import { type StudySettings, studySettingsSchema } from '../study-schemas.ts';
import { fileWithin } from './import-checks.ts';
import { type ImportedTables, readExport } from './import-tables.ts';

export const settingsFileName = 'settings.json';

/** A time at which no file can have been changed. */
const NEVER_SEEN_MS = -1;

/** What an import brought in. */
export interface Imported {
  readonly recordings: number;
  readonly sounds: number;
  readonly dances: number;
  readonly events: number;
  /** Rows in which the tables differed from what the events left: they are now as the tables have them. */
  readonly changedRows: number;
}

/**
 * Makes a study of an exported one. Events, detections and calibrations come back as they were; where trains.csv,
 * calls.csv or dances.csv differ from what the events left (because they were changed since), the tables are
 * believed, by one event of kind import.
 *
 * @param folder of the new study; must hold none
 * @throws InputError for tables that are wrong; then nothing is made
 */
export async function importStudy(folder: string, exported: string): Promise<Imported> {
  const settings = await readSettings(exported);
  const tables = await readExport(exported);
  const copied: [string, string][] = [];
  for (const name of fieldTables) {
    copied.push([name, await fileWithin(exported, name)]);
  }
  if ([feedersFile, openingsFile].some((name) => existsSync(join(folder, name)))) {
    const found = `${feedersFile} or ${openingsFile}`;
    throw new InputError({ file: folder, found, wanted: 'a folder without a study and its tables' });
  }
  await initStudy(folder, settings);
  try {
    for (const [name, path] of copied) {
      if (existsSync(path)) await copyFile(path, join(folder, name));
    }
    const study = await openStudy(folder);
    try {
      return restored(exported, study.store, tables);
    } finally {
      study.store.close();
    }
  } catch (error) {
    for (const name of studyFiles) await rm(join(folder, name), { force: true });
    throw error;
  }
}

/** @throws InputError for tables of which each is right by itself, but which do not go together */
function restored(exported: string, store: Store, tables: ImportedTables): Imported {
  try {
    return store.transaction(() => restore(store, tables)).immediate();
  } catch (error) {
    const { code, message } = error as { code?: unknown; message: string };
    if (typeof code !== 'string' || !code.startsWith('SQLITE_CONSTRAINT')) throw error;
    throw new InputError({
      file: exported,
      found: `tables that do not go together (${message})`,
      wanted: 'the tables of one study, as combtone export wrote them',
    });
  }
}

async function readSettings(exported: string): Promise<StudySettings> {
  const file = await fileWithin(exported, settingsFileName);
  const wanted = 'the settings of a study, as combtone export wrote them';
  let content: string;
  try {
    content = await readFile(file, 'utf8');
  } catch {
    throw new InputError({ file, found: 'no such file', wanted });
  }
  const result = studySettingsSchema.safeParse(parsed(content));
  if (result.success) return result.data;
  const issue = result.error.issues[0]!;
  throw new InputError({ file, place: issue.path.join('.') || 'top level', found: issue.message, wanted });
}

function parsed(content: string): unknown {
  try {
    return JSON.parse(content);
  } catch {
    return undefined;
  }
}

function restore(store: Store, { recordings, history, rows }: ImportedTables): Imported {
  restoreHistory(
    store,
    recordings.map((row) => ({
      id: row.recording_id,
      sha256: row.sha256,
      path: row.path,
      stem: row.stem,
      byteCount: row.byte_count,
      sampleRateHz: row.sample_rate_hz,
      channelCount: row.channel_count,
      durationS: row.duration_s,
      startTime: row.start_time,
      warnings: row.warnings === null ? [] : row.warnings.split('\n'),
    })),
    history,
  );
  // What the tables say of a file is taken on nobody's word: its bytes are read through before it is first used.
  for (const { recording_id, path } of recordings) moveRecording(store, recording_id, path, NEVER_SEEN_MS);
  const change = differences(store, rows);
  const changedRows = Object.keys(change.after.sounds).length + Object.keys(change.after.dances).length;
  if (changedRows > 0)
    appendEvent(store, { reviewer: 'combtone', kind: 'import', recordingId: null }, change);
  continueIds(store, [
    ...history.detectedSounds.map(({ soundId }) => soundId),
    ...history.events.flatMap(({ change: { after } }) => [
      ...Object.keys(after.sounds),
      ...Object.keys(after.dances),
    ]),
    ...Object.keys(rows.sounds),
    ...Object.keys(rows.dances),
  ]);
  return {
    recordings: recordings.length,
    sounds: Object.keys(rows.sounds).length,
    dances: Object.keys(rows.dances).length,
    events: history.events.length,
    changedRows,
  };
}

/** What must change for the rows to be as the tables have them. */
function differences(store: Store, wanted: RowStates): Change {
  const state = stateNow(store);
  const now = {
    sounds: Object.fromEntries([...state.sounds].map(([id, sound]) => [id, soundState(sound)])),
    dances: Object.fromEntries([...state.dances].map(([id, dance]) => [id, danceState(dance)])),
  };
  const before = {
    sounds: {} as Record<string, SoundState | null>,
    dances: {} as Record<string, DanceState | null>,
  };
  const after = {
    sounds: {} as Record<string, SoundState | null>,
    dances: {} as Record<string, DanceState | null>,
  };
  for (const table of ['sounds', 'dances'] as const) {
    const ids = new Set([...Object.keys(now[table]), ...Object.keys(wanted[table])]);
    for (const id of ids) {
      const [was, is] = [now[table][id] ?? null, wanted[table][id] ?? null];
      if (isDeepStrictEqual(was, is)) continue;
      (before[table] as Record<string, unknown>)[id] = was;
      (after[table] as Record<string, unknown>)[id] = is;
    }
  }
  return { before, after };
}
