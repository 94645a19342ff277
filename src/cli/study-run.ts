import { basename } from 'node:path';
import { InputError, oneLine } from '../input-error.ts';
import { parseStartTime } from '../recording/index.ts';
import { counted } from '../study/counted.ts';
import { applyDanceNotes, readDanceNotes, replacedWords, sheetRefused } from '../study/dance-notes.ts';
import { importStudy } from '../study/export/import-study.ts';
import { firstNamed } from '../study/first-named.ts';
import { sessionsOf } from '../study/sessions.ts';
import { allRecordings } from '../study/store/recordings.ts';
import { initStudy, nameOfFolder, newSettings, openStudy, readPlaces } from '../study/study-folder.ts';
import { type AddedRecording, addRecording, locateRecording } from '../study/study-recordings.ts';
import { listRecordings } from '../study/study-summary.ts';
import { type StudyStatus, studyText } from '../study/study-text.ts';
import { listDances, studyView } from '../study/study-view.ts';
import { unknownFeeders } from '../study/unknown-feeders.ts';
import { warn } from '../study/warn.ts';
import { zoneWarning } from '../study/zone-warning.ts';
import { tellFailures } from './failure.ts';
import { progressLine } from './progress.ts';

export interface InitOptions {
  readonly name?: string;
  readonly latitude?: number;
  readonly longitude?: number;
  readonly elevation?: number;
  readonly timeZone?: string;
  readonly json?: boolean;
}

export interface AddOptions {
  readonly start?: string;
  readonly json?: boolean;
}

export interface StatusOptions {
  readonly study?: string;
  readonly json?: boolean;
}

export interface NoteOptions {
  readonly study?: string;
  readonly from: string;
  readonly reviewer: string;
  readonly json?: boolean;
}

export interface ImportOptions {
  readonly from: string;
  readonly json?: boolean;
}

/** Makes a study folder, and prints what is in it. */
export async function runInit(folder: string, options: InitOptions): Promise<void> {
  const settings = newSettings(options.name ?? nameOfFolder(folder));
  const { latitude = null, longitude = null, elevation = null, timeZone = null } = options;
  const whole = { ...settings, hive: { latitude, longitude, elevationM: elevation, timeZone } };
  await initStudy(folder, whole);
  if (latitude !== null && longitude !== null && timeZone !== null) {
    const doubt = zoneWarning(latitude, longitude, timeZone);
    if (doubt !== null) warn(`${folder}/study.json: ${doubt}`);
  }
  process.stdout.write(
    options.json
      ? `${JSON.stringify(whole, null, 2)}\n`
      : `Made: ${folder}/study.json, feeders.csv, openings.csv, study.sqlite\n` +
          (latitude === null || longitude === null
            ? `Without latitude and longitude there will be no bearings and no map: they go into ${folder}/study.json\n`
            : '') +
          `Fill in feeders.csv and openings.csv, then: combtone study add ${folder} REC...\n`,
  );
}

/** Adds recordings to a study, and prints which were new; the exit code becomes 2 where some could not be. */
export async function runAdd(folder: string, paths: readonly string[], options: AddOptions): Promise<void> {
  const startTime = options.start === undefined ? undefined : parseStartTime(options.start, '--start');
  const study = await openStudy(folder);
  const progress = progressLine();
  const added: AddedFile[] = [];
  const failures: InputError[] = [];
  try {
    for (const [index, path] of paths.entries()) {
      progress(basename(path), index / paths.length);
      try {
        added.push({ ...(await addRecording(study, path, startTime)), path });
      } catch (error) {
        // One bad file must not keep the others out; alone, it is simply the error.
        if (!(error instanceof InputError) || paths.length === 1) throw error;
        failures.push(error);
      }
    }
  } finally {
    progress('', 1);
    study.store.close();
  }
  for (const failure of failures) process.stderr.write(`combtone: ${failure.message}\n`);
  for (const { recording } of added) {
    for (const warning of recording.warnings) {
      warn(`${recording.path}: ${warning}`);
    }
  }
  if (startTime !== undefined) tellSameStart(added, startTime);
  process.stdout.write(
    options.json
      ? `${JSON.stringify(
          added.map(({ path: _, recording, ...what }) => ({ ...recording, ...what })),
          null,
          2,
        )}\n`
      : added.map((one) => `${oneLine(addedWords(one))}\n`).join(''),
  );
  if (failures.length > 0) process.exitCode = 2;
}

type AddedFile = AddedRecording & { readonly path: string };

function addedWords({ recording, outcome, path, startWas }: AddedFile): string {
  const { path: place, startTime } = recording;
  if (outcome === 'added') return `${place}: added`;
  const isOther = outcome === 'known' && basename(path) !== basename(place);
  const known = isOther ? `${path}: known already, as ${place}` : `${place}: known already`;
  const start =
    startWas === undefined
      ? ''
      : startWas === null
        ? `; start set to ${startTime}`
        : `; start corrected from ${startWas} to ${startTime}`;
  return `${outcome === 'moved' ? `${place}: known, now here` : known}${start}`;
}

/** Recordings are not laid end to end: several given one start are told of. */
function tellSameStart(added: readonly AddedFile[], startTime: string): void {
  const alike = added.filter(({ recording }) => recording.startTime === startTime);
  if (alike.length < 2) return;
  const named = firstNamed(alike.map(({ recording }) => recording.path));
  warn(
    `${alike.length} recordings start at ${startTime} now (${named}); where they follow one another, give each its own --start, one at a time`,
  );
}

/** Prints what is in a study. */
export async function runStatus(folder: string, options: StatusOptions): Promise<void> {
  const study = await openStudy(folder);
  try {
    // A file that was moved within the study is found again here.
    for (const recording of allRecordings(study.store)) await locateRecording(study, recording);
    const places = await readPlaces(study);
    const told: StudyStatus = {
      name: study.settings.name,
      feeders: places.feeders.length,
      openings: places.openings.length,
      recordings: listRecordings(study),
      sessions: sessionsOf(allRecordings(study.store), study.settings.hive.timeZone),
      conflicts: listDances(studyView(study, places))
        .filter((dance) => dance.feederConflict.length > 0)
        .map((dance) => `${dance.id} (${dance.feederConflict.join(' or ')})`),
      unknownFeeders: unknownFeeders(study.store, places.feeders),
    };
    process.stdout.write(options.json ? `${JSON.stringify(told, null, 2)}\n` : `${studyText(told)}\n`);
  } finally {
    study.store.close();
  }
}

/** Writes notes of dances into a study, and prints which dances were noted. */
export async function runNote(folder: string, options: NoteOptions): Promise<void> {
  const study = await openStudy(folder);
  try {
    const view = studyView(study, await readPlaces(study));
    const sheet = await readDanceNotes(options.from, view);
    const { notes, refused } = sheet;
    if (refused.length > 0) {
      tellFailures(refused.map(({ error }) => error));
      throw sheetRefused(options.from, sheet);
    }
    applyDanceNotes(view, notes, options.reviewer);
    const told = notes.map((note) => ({ row: note.line, danceId: note.dance.id, ...note.changes }));
    const replaced = notes.flatMap((note) => replacedWords(note).map((words) => `${note.dance.id} ${words}`));
    process.stdout.write(
      options.json
        ? `${JSON.stringify(told, null, 2)}\n`
        : `${notedWords(told)}\n${replacedText(replaced)}${afterNotes(folder)}`,
    );
  } finally {
    study.store.close();
  }
}

/** `24 dances noted: row 2 hive-d0001, ... and 21 more; --json names all`. */
function notedWords(noted: readonly { readonly row: number; readonly danceId: string }[]): string {
  const count = `${counted(noted.length, 'dance')} noted`;
  if (noted.length === 0) return count;
  const named = noted.map(({ row, danceId }) => `row ${row} ${danceId}`);
  return `${count}: ${firstNamed(named, '; --json names all')}`;
}

/** What had been noted otherwise before, each line of it: perhaps by somebody who knew better. */
const replacedText = (replaced: readonly string[]): string =>
  replaced.length === 0
    ? ''
    : `Noted otherwise before: ${replaced.join('; ')} (undo on the page takes it back)\n`;

/** What comes after dances have been noted. */
const afterNotes = (folder: string): string => `
Next: combtone day --study ${folder}   do clock and comb fit the sun?
      combtone calibrate --study ${folder}   the colony's curve, from dances at feeders
`;

/** Makes a study folder of exported tables, and prints what is in it. */
export async function runImport(folder: string, options: ImportOptions): Promise<void> {
  const told = await importStudy(folder, options.from);
  const changed =
    told.changedRows === 0 ? '' : `; ${told.changedRows} rows as the tables have them, not the events`;
  process.stdout.write(
    options.json
      ? `${JSON.stringify(told, null, 2)}\n`
      : `Made: ${folder}, with ${counted(told.recordings, 'recording')}, ${counted(told.sounds, 'sound')}, ${counted(told.dances, 'dance')} and ` +
          `${counted(told.events, 'event')}${changed}\n`,
  );
}
