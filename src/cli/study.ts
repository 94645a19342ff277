import { basename } from 'node:path';
import type { Command } from 'commander';
import { InputError, oneLine } from '../input-error.ts';
import { parseStartTime } from '../recording/index.ts';
import { applyDanceNotes, readDanceNotes } from '../study/dance-notes.ts';
import { importStudy } from '../study/export/import-study.ts';
import { sessionsOf } from '../study/sessions.ts';
import { allRecordings } from '../study/store/recordings.ts';
import { initStudy, nameOfFolder, newSettings, openStudy, readPlaces } from '../study/study-folder.ts';
import { type AddedRecording, addRecording, locateRecording } from '../study/study-recordings.ts';
import { listRecordings } from '../study/study-summary.ts';
import { type StudyStatus, studyText } from '../study/study-text.ts';
import { listDances, studyView } from '../study/study-view.ts';
import { progressLine } from './progress.ts';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';
import { registerBackup, registerCheck } from './study-keep.ts';
import { registerMerge } from './study-merge.ts';

/** The way through a study, one command after the other. */
const way = `
Example:
  $ combtone study init summer --latitude 51.2 --longitude 7.1 --time-zone Europe/Berlin
  $ combtone study add summer recordings/*.wav
  $ combtone detect --study summer
  $ combtone study note summer --from notes.csv --reviewer "Your name"
  $ combtone review --study summer
  $ combtone calibrate --study summer --name June
  $ combtone estimate --study summer
  $ combtone study backup --study summer --out summer-backup
  $ combtone study check --study summer
`;

interface InitOptions {
  readonly name?: string;
  readonly latitude?: number;
  readonly longitude?: number;
  readonly elevation?: number;
  readonly timeZone?: string;
  readonly json?: boolean;
}

/** Adds `combtone study`: a folder that holds recordings, what was found in them, and every review of it. */
export function registerStudy(program: Command): void {
  const study = program
    .command('study')
    .description('keep recordings, detections and reviews together in a folder')
    .addHelpText('after', way);
  registerInit(study);
  registerAdd(study);
  registerStatus(study);
  registerNote(study);
  registerImport(study);
  registerCheck(study);
  registerBackup(study);
  registerMerge(study);
  for (const command of study.commands) {
    command.exitOverride().configureOutput({ outputError: () => {} });
    command.option('--debug', 'print stack traces');
  }
}

function registerInit(study: Command): void {
  study
    .command('init')
    .description('make a study folder')
    .argument('<folder>', 'made when absent')
    .option('--name <name>', "the study's name (default: the folder's)", nameOf)
    .option('--latitude <degrees>', 'of the hive, north positive', numberWithin('--latitude', -90, 90))
    .option('--longitude <degrees>', 'of the hive, east positive', numberWithin('--longitude', -180, 180))
    .option('--elevation <m>', 'of the hive above the sea', numberWithin('--elevation', -500, 9000))
    .option('--time-zone <name>', 'IANA name, for clock times without offset', timeZoneOf)
    .option('--json', 'print study.json')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone study init summer --latitude 51.2 --longitude 7.1 --time-zone Europe/Berlin',
        'makes the folder summer with study.json, study.sqlite and two tables to fill in:',
        '  feeders.csv   feeder_id, distance_m and bearing_deg (or latitude and longitude), paint_mark',
        '  openings.csv  feeder_id, start, end: when each feeder was open, by the clock',
        'Coordinates and time zone are for the sun: without them there are distances, but no bearings and no map.',
      ),
    )
    .action(init);
}

function registerAdd(study: Command): void {
  study
    .command('add')
    .description('add recordings; the same sound under another name or place is known again')
    .argument('<folder>', 'the study')
    .argument('<recording...>', 'sound files (WAVE, AIFF, FLAC, Ogg Vorbis, MP3); they stay where they are')
    .option('--start <time>', 'clock time of the start, ISO 8601, where neither file nor name tells it')
    .option('--json', 'print what was added as JSON')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone study add summer recordings/*.wav',
        'The start of each is read from the file or its name, such as hive-20310614_090000.wav.',
      ),
    )
    .action(add);
}

function registerStatus(study: Command): void {
  addStudyArgument(study.command('status').description('tell what is in a study and how far its review is'))
    .option('--json', 'print it as JSON')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone study status summer',
        'one line per recording: is its file there, when does it start, what was found, how much is reviewed',
      ),
    )
    .action(status);
}

function registerNote(study: Command): void {
  addStudyArgument(
    study
      .command('note')
      .description(
        'write down what was seen of dances at the hive: bee, paint mark, feeder, treatment, comb angle',
      ),
  )
    .requiredOption(
      '--from <file>',
      'notes, CSV: time or dance_id, and any of bee_id, paint_mark, feeder_id, treatment, comb_angle_deg, note',
    )
    .requiredOption('--reviewer <name>', 'whose notes they are', reviewerOf)
    .option('--json', 'print which dances were noted as JSON')
    .addHelpText(
      'after',
      exampleOf(
        'notes.csv, one row per dance; comb angles clockwise from straight up, in degrees:',
        '  time,bee_id,feeder_id,treatment,comb_angle_deg',
        '  2031-06-14T09:01:05,blue-2,alder,reference,-36',
        '  2031-06-14T09:02:42,red-1,alder,loaded,-38',
        '$ combtone study note summer --from notes.csv --reviewer "Your name"',
        'Each row goes to the dance that was danced at its time, give or take 15 s. Where several were, the row wants',
        'a dance_id instead: combtone day --study summer --out day lists all dances with their times in day_dances.csv.',
      ),
    )
    .action(note);
}

function registerImport(study: Command): void {
  study
    .command('import')
    .description('make a study folder of what combtone export wrote')
    .argument('<folder>', 'the new study')
    .requiredOption('--from <folder>', 'the exported tables')
    .option('--json', 'print what was brought in as JSON')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone export --study summer --out tables',
        '$ combtone study import again --from tables',
        'makes the study again from its tables, with every review',
      ),
    )
    .action(bringIn);
}

async function init(folder: string, options: InitOptions): Promise<void> {
  const settings = newSettings(options.name ?? nameOfFolder(folder));
  const { latitude = null, longitude = null, elevation = null, timeZone = null } = options;
  const whole = { ...settings, hive: { latitude, longitude, elevationM: elevation, timeZone } };
  await initStudy(folder, whole);
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

async function add(
  folder: string,
  paths: readonly string[],
  options: { readonly start?: string; readonly json?: boolean },
): Promise<void> {
  const startTime = options.start === undefined ? undefined : parseStartTime(options.start, '--start');
  const study = await openStudy(folder);
  const progress = progressLine();
  const added: (AddedRecording & { readonly path: string })[] = [];
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
      process.stderr.write(`combtone: warning: ${oneLine(`${recording.path}: ${warning}`)}\n`);
    }
  }
  const told = ({ recording, outcome, path }: AddedRecording & { readonly path: string }) => {
    if (outcome === 'added') return `${recording.path}: added`;
    if (outcome === 'moved') return `${recording.path}: known, now here`;
    const isOther = basename(path) !== basename(recording.path);
    return isOther ? `${path}: known already, as ${recording.path}` : `${recording.path}: known already`;
  };
  process.stdout.write(
    options.json
      ? `${JSON.stringify(
          added.map(({ recording, outcome }) => ({ ...recording, outcome })),
          null,
          2,
        )}\n`
      : added.map((one) => `${oneLine(told(one))}\n`).join(''),
  );
  if (failures.length > 0) process.exitCode = 2;
}

async function status(
  folder: string | undefined,
  options: { readonly study?: string; readonly json?: boolean },
): Promise<void> {
  const study = await openStudy(studyOf(folder, options.study));
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
    };
    process.stdout.write(options.json ? `${JSON.stringify(told, null, 2)}\n` : `${studyText(told)}\n`);
  } finally {
    study.store.close();
  }
}

async function note(
  folder: string | undefined,
  options: {
    readonly study?: string;
    readonly from: string;
    readonly reviewer: string;
    readonly json?: boolean;
  },
): Promise<void> {
  const study = await openStudy(studyOf(folder, options.study));
  try {
    const view = studyView(study, await readPlaces(study));
    const notes = await readDanceNotes(options.from, view);
    applyDanceNotes(view, notes, options.reviewer);
    const told = notes.map(({ line, dance, changes }) => ({ row: line, danceId: dance.id, ...changes }));
    process.stdout.write(
      options.json
        ? `${JSON.stringify(told, null, 2)}\n`
        : `${told.map(({ row, danceId }) => `row ${row}: ${danceId}\n`).join('')}${told.length} dances noted\n${afterNotes(studyOf(folder, options.study))}`,
    );
  } finally {
    study.store.close();
  }
}

/** What comes after dances have been noted. */
const afterNotes = (folder: string): string => `
Next: combtone day --study ${folder}   do clock and comb fit the sun?
      combtone calibrate --study ${folder}   the colony's curve, from dances at feeders
`;

function reviewerOf(text: string): string {
  const name = text.trim();
  if (name.length > 0 && name.length <= 120 && name !== 'combtone') return name;
  throw new InputError({
    file: '--reviewer',
    found: JSON.stringify(text),
    wanted: 'a name of 1 to 120 characters',
  });
}

async function bringIn(
  folder: string,
  options: { readonly from: string; readonly json?: boolean },
): Promise<void> {
  const told = await importStudy(folder, options.from);
  const changed =
    told.changedRows === 0 ? '' : `; ${told.changedRows} rows as the tables have them, not the events`;
  process.stdout.write(
    options.json
      ? `${JSON.stringify(told, null, 2)}\n`
      : `Made: ${folder}, with ${told.recordings} recordings, ${told.sounds} sounds, ${told.dances} dances and ` +
          `${told.events} events${changed}\n`,
  );
}

function nameOf(text: string): string {
  const name = text.trim();
  if (name.length > 0 && name.length <= 120) return name;
  throw new InputError({ file: '--name', found: JSON.stringify(text), wanted: '1 to 120 characters' });
}

function timeZoneOf(text: string): string {
  try {
    new Intl.DateTimeFormat('en', { timeZone: text });
    return text;
  } catch {
    throw new InputError({
      file: '--time-zone',
      found: JSON.stringify(text),
      wanted: 'an IANA name such as Europe/Berlin',
    });
  }
}

function numberWithin(option: string, low: number, high: number): (text: string) => number {
  return (text) => {
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (value >= low && value <= high) return value;
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: `a number from ${low} to ${high}`,
    });
  };
}
