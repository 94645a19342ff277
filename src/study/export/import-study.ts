import { existsSync } from 'node:fs';
import { copyFile, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { InputError } from '../../input-error.ts';
import { appendEvent } from '../store/events.ts';
import { continueIds, restoreHistory } from '../store/history.ts';
import type { Store } from '../store/open-store.ts';
import type { Change, DanceState, RowStates, SoundState } from '../store/rows.ts';
import { danceState, soundState } from '../store/rows.ts';
import { stateNow } from '../store/state.ts';
import { initStudy, openStudy } from '../study-folder.ts';
import { type StudySettings, studySettingsSchema } from '../study-schemas.ts';
import { type ImportedTables, readExport } from './import-tables.ts';

export const settingsFileName = 'settings.json';

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
  if (existsSync(join(folder, 'feeders.csv')) || existsSync(join(folder, 'openings.csv'))) {
    const found = 'feeders.csv or openings.csv';
    throw new InputError({ file: folder, found, wanted: 'a folder without a study and its tables' });
  }
  await initStudy(folder, settings);
  try {
    for (const name of ['feeders.csv', 'openings.csv', 'arrivals.csv']) {
      if (existsSync(join(exported, name))) await copyFile(join(exported, name), join(folder, name));
    }
    const study = await openStudy(folder);
    try {
      return study.store.transaction(() => restore(study.store, tables)).immediate();
    } finally {
      study.store.close();
    }
  } catch (error) {
    const made = ['study.json', 'study.sqlite', 'feeders.csv', 'openings.csv', 'arrivals.csv'];
    for (const name of made) await rm(join(folder, name), { force: true });
    throw error;
  }
}

async function readSettings(exported: string): Promise<StudySettings> {
  const file = join(exported, settingsFileName);
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
