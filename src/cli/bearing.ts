import { type Command, Option } from 'commander';
import { combPostures } from '../bearing/comb-angle.ts';
import { InputError } from '../input-error.ts';
import type { BearingOptions, BearingSource } from './bearing-run.ts';
import { between } from './numbers.ts';
import { runsOption } from './runs-option.ts';

const example = `
Example:
  angles.csv, one row per run; comb angles clockwise from straight up, in degrees:
    dance_id,feeder_id,comb_angle_deg,start_time
    d01,,-42,2025-06-14T09:30:00
    d01,,-37,
    d01,,-45,
    ...
  $ combtone bearing --observations angles.csv --latitude 51.2 --longitude 9.4 --time-zone Europe/Berlin --out bearings.csv
  A run without a time has that of the run before it. Dances whose feeder_id stands in --feeders teach how far
  and how widely this colony's dances miss.
  $ combtone bearing --study summer --out bearings.csv
  the same for the dances of a study, by the comb angles noted in it
`;

/** Adds the options that tell where the hive is. */
export function addHiveOptions(command: Command): Command {
  return command
    .option(
      '--study <folder>',
      'a study (or its study.json): alone, its dances; beside a table its coordinates, time zone and comb only',
    )
    .option('--latitude <degrees>', 'of the hive, north positive', between('--latitude', -90, 90))
    .option('--longitude <degrees>', 'of the hive, east positive', between('--longitude', -180, 180));
}

/** Adds `combtone bearing`: comb angles to bearings. */
export function registerBearing(program: Command): void {
  addHiveOptions(
    program
      .command('bearing')
      .description('turn comb angles into bearings by the sun, with intervals')
      .option('--observations <file>', 'table of runs with comb angles and times, CSV'),
  )
    .option('--elevation <m>', 'of the hive above the sea', between('--elevation', -500, 9000))
    .option('--time-zone <name>', 'IANA name, for times without an offset from UTC')
    .addOption(
      new Option('--comb <posture>', 'how the comb stands (default: vertical)').choices([...combPostures]),
    )
    .option('--feeders <file>', 'table of feeders at known places, CSV')
    .addOption(runsOption('inner'))
    .option(
      '--run-sd <degrees>',
      'scatter of single runs, in place of what the dances show',
      between('--run-sd', 0.1, 180),
    )
    .option(
      '--level <share>',
      'probability of the intervals, between 0 and 1',
      between('--level', 0.001, 0.9999),
      0.95,
    )
    .option('--out <file>', 'table of bearings to write, CSV')
    .option('--json', 'print the bearings as JSON')
    .addHelpText('after', example)
    .action(async (options: BearingOptions) => {
      const source = sourceOf(options);
      const { runBearing } = await import('./bearing-run.ts');
      await runBearing(source, options);
    });
}

/** @throws InputError where the call gives nothing to read, or more than a study alone takes */
function sourceOf(options: BearingOptions): BearingSource {
  const { observations, study } = options;
  if (observations !== undefined) return { observations };
  if (study === undefined) {
    throw new InputError({
      file: '--observations',
      found: 'neither it nor --study',
      wanted: 'a table of comb angles, or a study',
    });
  }
  const beside = ['latitude', 'longitude', 'elevation', 'timeZone', 'comb', 'feeders', 'runSd'] as const;
  const odd = beside.find((name) => options[name] !== undefined);
  if (odd !== undefined) {
    throw new InputError({
      file: `--${odd.replace(/[A-Z]/, (letter) => `-${letter.toLowerCase()}`)}`,
      found: 'one beside --study alone',
      wanted: 'what the study says, or --observations with a table',
    });
  }
  return { study };
}
