import { type Command, Option } from 'commander';
import { combPostures } from '../bearing/comb-angle.ts';
import { givenScatter } from '../bearing/dance-bearing.ts';
import { type RunChoice, runChoices } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { type Bearings, bearingsOf } from '../study/bearings.ts';
import { readAngles } from '../study/bearings-observations.ts';
import { bearingSchema } from '../study/bearings-tables.ts';
import { bearingsText } from '../study/bearings-text.ts';
import { writeTable } from '../study/csv.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces, siteOf } from '../study/study-folder.ts';
import { studyView } from '../study/study-view.ts';
import { between } from './numbers.ts';

interface BearingOptions extends HiveOptions {
  readonly observations?: string;
  readonly feeders?: string;
  readonly runs: RunChoice;
  readonly runSd?: number;
  readonly level: number;
  readonly out?: string;
  readonly json?: boolean;
}

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
      'a study (or its study.json): coordinates, time zone and comb come from it; alone, its dances too',
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
    .addOption(
      new Option('--runs <which>', 'runs of a dance to use; a dance of fewer than four gives all')
        .choices([...runChoices])
        .default('inner'),
    )
    .option(
      '--run-sd <degrees>',
      'scatter of single runs, in place of what the dances show',
      between('--run-sd', 0.1, 180),
    )
    .option('--level <share>', 'probability of the intervals', between('--level', 0.001, 0.9999), 0.95)
    .option('--out <file>', 'table of bearings to write, CSV')
    .option('--json', 'print the bearings as JSON')
    .addHelpText('after', example)
    .action(runBearing);
}

async function runBearing(options: BearingOptions): Promise<void> {
  const bearings =
    options.observations === undefined
      ? await bearingsOfStudy(options)
      : await bearingsOfTable(options.observations, options);
  if (options.out !== undefined) await writeTable(options.out, bearingSchema, bearings.rows);
  const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
  process.stdout.write(options.json ? `${jsonOf(bearings)}\n` : `${bearingsText(bearings)}${written}`);
}

async function bearingsOfTable(observations: string, options: BearingOptions): Promise<Bearings> {
  const hive = await hivePlace(options);
  const feeders = options.feeders === undefined ? null : await readFeederPlaces(options.feeders, hive.site);
  const dances = await readAngles(observations, hive, feeders);
  return bearingsOf(dances, feeders ?? [], {
    posture: hive.posture,
    runs: options.runs,
    level: options.level,
    runScatter: options.runSd === undefined ? null : givenScatter(options.runSd),
  });
}

/** Bearings of a study's own dances: one comb angle each, as noted, by what study.json and feeders.csv say. */
async function bearingsOfStudy(options: BearingOptions): Promise<Bearings> {
  const { study: folder } = options;
  if (folder === undefined) {
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
  const study = await openStudy(folder, true);
  try {
    const { bearings } = studyFindings(studyView(study, await readPlaces(study)), options.level, () => []);
    if (bearings?.rows.some(({ comb_angle_deg: angle }) => angle !== null)) return bearings;
    throw new InputError({
      file: folder,
      found:
        siteOf(study.settings) === null
          ? 'a hive without latitude and longitude in study.json'
          : 'no dance by day that has both a clock time and a comb angle',
      wanted: 'coordinates, and comb angles noted on the review page or by combtone study note',
    });
  } finally {
    study.store.close();
  }
}

function jsonOf({
  rows,
  runScatter,
  directionCalibration,
  knownDances,
}: ReturnType<typeof bearingsOf>): string {
  const freedom = (value: number) => (Number.isFinite(value) ? value : null);
  return JSON.stringify(
    {
      bearings: rows,
      run_scatter:
        runScatter === null
          ? null
          : { kappa: runScatter.kappa, degrees_of_freedom: freedom(runScatter.degreesOfFreedom) },
      known_dances: knownDances,
      direction_calibration:
        directionCalibration === null
          ? null
          : {
              dances: directionCalibration.dances,
              forms: directionCalibration.forms.map((form) => ({
                weight: form.weight,
                harmonics: form.order,
                coefficients_deg: form.coefficients,
                log_variance_deg2: form.scatter,
                degrees_of_freedom: form.degreesOfFreedom,
                aicc: form.aicc,
              })),
            },
    },
    null,
    2,
  );
}
