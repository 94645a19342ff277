import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import { addStudyArgument, exampleOf, studyOf } from './study-argument.ts';
import { registerBackup, registerCheck } from './study-keep.ts';
import { registerMerge } from './study-merge.ts';
import type { AddOptions, ImportOptions, InitOptions, NoteOptions, StatusOptions } from './study-run.ts';

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
  $ combtone study backup summer --out summer-backup
  $ combtone study check summer
`;

/** Adds `combtone study`: a folder that holds recordings, what was found in them, and every review of it. */
export function registerStudy(program: Command): void {
  const study = program
    .command('study')
    .description('keep recordings, detections and reviews together in a folder')
    // What each takes stands in its own help; here it would leave no room for what it does.
    .configureHelp({ subcommandTerm: (command) => command.name() })
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
    .action(async (folder: string, options: InitOptions) => {
      const { runInit } = await import('./study-run.ts');
      await runInit(folder, options);
    });
}

function registerAdd(study: Command): void {
  study
    .command('add')
    .description('add recordings; the same sound under another name or place is known again')
    .argument('<folder>', 'the study')
    .argument('<recording...>', 'sound files (WAVE, AIFF, FLAC, Ogg Vorbis, MP3); they stay where they are')
    .option(
      '--start <time>',
      'clock time of the start of each, ISO 8601, where neither file nor name tells it; sets or corrects that of a known one',
    )
    .option('--json', 'print what was added as JSON')
    .addHelpText(
      'after',
      exampleOf(
        '$ combtone study add summer recordings/*.wav',
        'The start of each is read from the file or its name, such as hive-20310614_090000.wav.',
        '$ combtone study add summer old.wav --start 2031-06-14T09:00:00',
        'gives one whose file and name tell none its start, before or after it was added.',
      ),
    )
    .action(async (folder: string, paths: string[], options: AddOptions) => {
      const { runAdd } = await import('./study-run.ts');
      await runAdd(folder, paths, options);
    });
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
    .action(async (argument: string | undefined, options: StatusOptions) => {
      const folder = studyOf(argument, options.study);
      const { runStatus } = await import('./study-run.ts');
      await runStatus(folder, options);
    });
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
        '  2031-06-14T09:04:10,blue-2,none,,120',
        '$ combtone study note summer --from notes.csv --reviewer "Your name"',
        'none is for a dance to a place nobody knows, while feeders were open. An empty cell changes nothing; - takes back',
        'what was noted, and leaves the feeder to openings.csv, as it is for a dance of which nothing was noted.',
        'Each row goes to the dance that was danced at its time, give or take 15 s. Where several were, the row wants',
        'a dance_id instead: combtone day --study summer --out day lists all dances with their times in day_dances.csv.',
        'Two rows on one dance are refused, and how to go on is told: divide it on the page, or leave one out.',
      ),
    )
    .action(async (argument: string | undefined, options: NoteOptions) => {
      const folder = studyOf(argument, options.study);
      const { runNote } = await import('./study-run.ts');
      await runNote(folder, options);
    });
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
    .action(async (folder: string, options: ImportOptions) => {
      const { runImport } = await import('./study-run.ts');
      await runImport(folder, options);
    });
}

function reviewerOf(text: string): string {
  const name = text.trim();
  if (name.length > 0 && name.length <= 120 && name !== 'combtone') return name;
  throw new InputError({
    file: '--reviewer',
    found: JSON.stringify(text),
    wanted: 'a name of 1 to 120 characters',
  });
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
