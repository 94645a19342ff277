import { type Command, Option } from 'commander';
import type { Site } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import {
  type ForagingMap,
  foragingMap,
  type MapSettings,
  type MapWeight,
  mapWeights,
} from '../study/maps.ts';
import { readMapDances } from '../study/maps-input.ts';
import { mapJson, mapText, writeMap } from '../study/maps-output.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces, siteOf } from '../study/study-folder.ts';
import { studyMap } from '../study/study-map.ts';
import { studyView } from '../study/study-view.ts';
import { addHiveOptions } from './bearing.ts';
import { between } from './numbers.ts';
import { progressLine } from './progress.ts';

interface MapOptions extends HiveOptions {
  readonly estimates?: string;
  readonly bearings?: string;
  readonly posteriors?: string;
  readonly feeders?: string;
  readonly weight: MapWeight;
  readonly cell?: number;
  readonly out?: string;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone map --estimates estimates.csv --bearings bearings.csv --latitude 51.2 --longitude 9.4 --out map
  from what combtone estimate and combtone bearing wrote; puts into the folder map
    map.geojson   regions of 50, 80 and 95 % of each dance and of all together, hive, goals, feeders
    density.asc   dances per hectare on a grid for GIS, metres east and north of the hive, with density.prj
    places.csv    one row per dance
  $ combtone map --study summer --out map
  the same for the dances of a study that have no feeder, by its newest calibration and the comb angles noted in it
`;

/** Adds `combtone map`: places of dances, and their sum, with contours. */
export function registerMap(program: Command): void {
  addHiveOptions(
    program
      .command('map')
      .description('map the places that dances tell of, with regions of 50, 80 and 95 %')
      .option('--estimates <file>', 'distances written by combtone estimate, CSV')
      .option('--bearings <file>', 'bearings written by combtone bearing, CSV'),
  )
    .option(
      '--posteriors <file>',
      'posteriors of distance (dance_id, distance_m, density; rows per dance), CSV',
    )
    .option('--feeders <file>', 'table of feeders to show, CSV')
    .addOption(
      new Option('--weight <what>', 'count each dance as one, or as its used runs')
        .choices([...mapWeights])
        .default('dances'),
    )
    .option('--cell <m>', 'side of the cells of density.asc', between('--cell', 0.1, 10_000))
    .option('--out <folder>', 'folder to write the map into')
    .option('--json', 'print regions and places as JSON')
    .addHelpText('after', example)
    .action(runMap);
}

async function runMap(options: MapOptions): Promise<void> {
  const { estimates, bearings } = options;
  const settings = { weight: options.weight, cellM: options.cell ?? null };
  if (estimates === undefined && bearings === undefined && options.study !== undefined) {
    return mapOfStudy(options.study, settings, options);
  }
  if (estimates === undefined || bearings === undefined) {
    const missing = estimates === undefined ? '--estimates' : '--bearings';
    throw new InputError({
      file: missing,
      found: 'no table',
      wanted: 'both --estimates and --bearings, or --study alone for the dances of a study',
    });
  }
  const { site } = await hivePlace(options);
  const feeders = options.feeders === undefined ? [] : await readFeederPlaces(options.feeders, site);
  const dances = await readMapDances(estimates, bearings, options.posteriors);
  const progress = progressLine();
  const map = foragingMap(site, dances, feeders, settings, (share) => progress('Mapping', share));
  await tellMap(site, map, options);
}

/** The map of a study's own dances: those to places that are no feeder. */
async function mapOfStudy(folder: string, settings: MapSettings, options: MapOptions): Promise<void> {
  const odd = (['latitude', 'longitude', 'posteriors', 'feeders'] as const).find(
    (name) => options[name] !== undefined,
  );
  if (odd !== undefined) {
    throw new InputError({
      file: `--${odd}`,
      found: 'one beside --study alone',
      wanted: 'what the study says, or --estimates and --bearings',
    });
  }
  const study = await openStudy(folder, true);
  try {
    const findings = studyFindings(studyView(study, await readPlaces(study)));
    const { map, why, leftOut } = studyMap(study, findings, settings);
    const site = siteOf(study.settings);
    if (map === null || site === null) {
      throw new InputError({
        file: folder,
        found: `nothing to map: ${why}`,
        wanted: `dances with a distance (combtone calibrate --study ${folder}) and a comb angle (combtone study note ${folder})`,
      });
    }
    for (const { danceId, reason } of leftOut)
      process.stderr.write(`combtone: not mapped: ${danceId}: ${reason}\n`);
    await tellMap(site, map, options);
  } finally {
    study.store.close();
  }
}

async function tellMap(site: Site, map: ForagingMap, options: MapOptions): Promise<void> {
  const written = options.out === undefined ? [] : await writeMap(options.out, site, map);
  const listed = written.length === 0 ? '' : `\nWritten: ${written.join(', ')}\n`;
  process.stdout.write(
    options.json ? `${mapJson(map, options.weight)}\n` : `${mapText(map, options.weight)}${listed}`,
  );
}
