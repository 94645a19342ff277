import { existsSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { InputError } from '../input-error.ts';
import { type CheckedRecording, checkRecordings } from './check-recordings.ts';
import { studyArrivals } from './day/arrivals.ts';
import { versionOf } from './store/migrate.ts';
import { migrations } from './store/migrations/index.ts';
import { openStore, type Store } from './store/open-store.ts';
import { rebuildState } from './store/state.ts';
import { storeFaults } from './store/store-check.ts';
import { copyBefore, tableCounts } from './store/store-copy.ts';
import { settingsFile, storeFile } from './study-files.ts';
import { newSettings, type OpenStudy, readGivenPlaces, readSettings } from './study-folder.ts';
import type { Feeder, StudySettings } from './study-schemas.ts';
import { unknownFeeders } from './unknown-feeders.ts';

/** One part of a study, and what is wrong with it. */
export interface CheckedPart {
  readonly part: string;
  /** What was looked at, for people to read. */
  readonly looked: string;
  readonly faults: readonly string[];
}

export interface StudyCheck {
  readonly folder: string;
  /** Recordings that are missing are no fault: they may lie on a disk that is not at hand. */
  readonly sound: boolean;
  readonly parts: readonly CheckedPart[];
  readonly recordings: readonly CheckedRecording[];
  /** Rows of each table of the store; null where it cannot be read. */
  readonly counts: Readonly<Record<string, number>> | null;
  /** Feeders that dances name and feeders.csv does not have; no fault, for the table may come later. */
  readonly unknownFeeders: readonly string[];
  /** Names of copies of the store that were made before it was brought up to date. */
  readonly copies: readonly string[];
}

/**
 * Looks a study through: its settings and tables, its store, and the bytes of its recordings. Changes nothing, and
 * others may go on reviewing meanwhile.
 *
 * @param onProgress told which recording is read, and the share of all bytes read
 * @throws InputError when the folder is no study, or a newer combtone made it
 */
export async function checkStudy(
  folder: string,
  onProgress: (path: string, share: number) => void = () => {},
): Promise<StudyCheck> {
  if (!existsSync(join(folder, settingsFile)) && !existsSync(join(folder, storeFile))) {
    const found = `no ${settingsFile} in it`;
    throw new InputError({ file: folder, found, wanted: 'a study folder made by combtone study init' });
  }
  const settings = await partOf(settingsFile, 'settings', () => readSettings(folder));
  const opened = await partOf(storeFile, 'can be opened', async () => openToCheck(folder));
  const store = opened.value;
  if (store === null) return checkOf(folder, [settings.part, opened.part], [], null);
  try {
    const whole = versionOf(store) === migrations.length;
    const parts = [settings.part, ...(await storeParts(store, whole))];
    if (parts.some(({ part, faults }) => part === storeFile && faults.length > 0)) {
      return checkOf(folder, parts, [], null);
    }
    const study = studyOf(folder, settings.value, store);
    const tables = await partOf('tables', 'feeders, openings, arrivals', () => readTables(study));
    const recordings = whole ? await checkRecordings(study, onProgress) : [];
    return {
      ...(await checkOf(
        folder,
        [...parts, tables.part, recordingsPart(recordings)],
        recordings,
        tableCounts(store),
      )),
      unknownFeeders: whole && tables.value !== null ? unknownFeeders(store, tables.value) : [],
    };
  } finally {
    store.close();
  }
}

async function checkOf(
  folder: string,
  parts: readonly CheckedPart[],
  recordings: readonly CheckedRecording[],
  counts: StudyCheck['counts'],
): Promise<StudyCheck> {
  const copies = (await readdir(folder)).filter((name) => name.startsWith(`${storeFile}.before-`)).sort();
  return {
    folder,
    sound: parts.every(({ faults }) => faults.length === 0),
    parts,
    recordings,
    counts,
    unknownFeeders: [],
    copies,
  };
}

/** Does what may fail for a fault of the study, and takes down what it says. */
async function partOf<T>(part: string, looked: string, act: () => Promise<T>) {
  try {
    return { value: await act(), part: { part, looked, faults: [] } };
  } catch (error) {
    if (!isDamage(error)) throw error;
    return { value: null, part: { part, looked, faults: [(error as Error).message] } };
  }
}

/**
 * Makes the rows of sounds and dances again of the events, which are never changed, where they differ; the store is
 * copied before.
 *
 * @returns path of the copy; null where nothing differed
 * @throws Error where rows cannot be made of what is left of the events; InputError when it is no study or a damaged
 *   one; the store's errors
 */
export function rebuildRows(folder: string): string | null {
  const path = join(folder, storeFile);
  const store = openStore(path);
  try {
    const rebuild = store.transaction((): string | null => {
      const { pages, events, rows } = storeFaults(store);
      const [first] = [...pages, ...events];
      if (first !== undefined) {
        throw new Error(`${path}: rows were not made again, for the events are not whole (${first})`);
      }
      if (rows.length === 0) return null;
      const copy = copyBefore(path, 'rebuild');
      rebuildState(store);
      return copy;
    });
    return rebuild.immediate();
  } finally {
    store.close();
  }
}

/** Bad input in a study's own files is a fault of it; what a newer combtone made is not. */
function isDamage(error: unknown): boolean {
  if (error instanceof InputError) return !error.message.includes('newer combtone');
  return /^SQLITE_(CORRUPT|NOTADB)/.test((error as { code?: string }).code ?? '');
}

function openToCheck(folder: string): Store {
  return openStore(join(folder, storeFile), { readOnly: true, asItIs: true });
}

async function storeParts(store: Store, whole: boolean): Promise<CheckedPart[]> {
  const found = await partOf(storeFile, 'pages and indexes', async () => storeFaults(store, whole));
  if (found.value === null) return [found.part];
  const { pages, references, events, rows } = found.value;
  const parts = [{ part: storeFile, looked: 'pages and indexes', faults: pages }];
  if (pages.length > 0) return parts;
  if (!whole) return [{ ...parts[0]!, looked: 'pages and indexes; older, not yet brought up to date' }];
  return [
    ...parts,
    { part: 'references', looked: 'rows that name other rows', faults: references },
    { part: 'events', looked: 'numbered without gaps', faults: events },
    { part: 'rows', looked: 'as the events make them', faults: rows },
  ];
}

function studyOf(folder: string, settings: StudySettings | null, store: Store): OpenStudy {
  return { folder: resolve(folder), settings: settings ?? newSettings('study'), store, readOnly: true };
}

async function readTables(study: OpenStudy): Promise<readonly Feeder[]> {
  const { feeders } = await readGivenPlaces(study);
  await studyArrivals(
    study,
    feeders.map(({ feederId }) => feederId),
  );
  return feeders;
}

function recordingsPart(recordings: readonly CheckedRecording[]): CheckedPart {
  const faults = recordings.flatMap(({ path, state }) => {
    if (state === 'other bytes') return [`${path}: other bytes than were added`];
    return state === 'unreadable' ? [`${path}: cannot be read`] : [];
  });
  return { part: 'recordings', looked: 'bytes as they were added', faults };
}
