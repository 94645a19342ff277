import { type Command, Option } from 'commander';
import { combPostures } from '../bearing/comb-angle.ts';
import { givenScatter } from '../bearing/dance-bearing.ts';
import { type RunChoice, runChoices } from '../calibration/runs.ts';
import { bearingsOf } from '../study/bearings.ts';
import { readAngles } from '../study/bearings-observations.ts';
import { bearingSchema } from '../study/bearings-tables.ts';
import { bearingsText } from '../study/bearings-text.ts';
import { writeTable } from '../study/csv.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { between } from './numbers.ts';

interface BearingOptions extends HiveOptions {
  readonly observations: string;
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
`;

/** Adds the options that tell where the hive is. */
export function addHiveOptions(command: Command): Command {
  return command
    .option('--study <path>', 'study.json, or its folder: coordinates, time zone and comb come from it')
    .option('--latitude <degrees>', 'of the hive, north positive', between('--latitude', -90, 90))
    .option('--longitude <degrees>', 'of the hive, east positive', between('--longitude', -180, 180));
}

/** Adds `combtone bearing`: comb angles to bearings. */
export function registerBearing(program: Command): void {
  addHiveOptions(
    program
      .command('bearing')
      .description('turn comb angles into bearings by the sun, with intervals')
      .requiredOption('--observations <file>', 'table of runs with comb angles and times, CSV'),
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
  const hive = await hivePlace(options);
  const feeders = options.feeders === undefined ? null : await readFeederPlaces(options.feeders, hive.site);
  const dances = await readAngles(options.observations, hive, feeders);
  const bearings = bearingsOf(dances, feeders ?? [], {
    posture: hive.posture,
    runs: options.runs,
    level: options.level,
    runScatter: options.runSd === undefined ? null : givenScatter(options.runSd),
  });
  if (options.out !== undefined) await writeTable(options.out, bearingSchema, bearings.rows);
  const written = options.out === undefined ? '' : `\nWritten: ${options.out}\n`;
  process.stdout.write(options.json ? `${jsonOf(bearings)}\n` : `${bearingsText(bearings)}${written}`);
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
