import { type Command, Option } from 'commander';
import { foragingMap, type MapWeight, mapWeights } from '../study/maps.ts';
import { readMapDances } from '../study/maps-input.ts';
import { mapJson, mapText, writeMap } from '../study/maps-output.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { addHiveOptions } from './bearing.ts';
import { between } from './numbers.ts';
import { progressLine } from './progress.ts';

interface MapOptions extends HiveOptions {
  readonly estimates: string;
  readonly bearings: string;
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
`;

/** Adds `combtone map`: places of dances, and their sum, with contours. */
export function registerMap(program: Command): void {
  addHiveOptions(
    program
      .command('map')
      .description('map the places that dances tell of, with regions of 50, 80 and 95 %')
      .requiredOption('--estimates <file>', 'distances written by combtone estimate, CSV')
      .requiredOption('--bearings <file>', 'bearings written by combtone bearing, CSV'),
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
  const { site } = await hivePlace(options);
  const feeders = options.feeders === undefined ? [] : await readFeederPlaces(options.feeders, site);
  const dances = await readMapDances(options.estimates, options.bearings, options.posteriors);
  const progress = progressLine();
  const settings = { weight: options.weight, cellM: options.cell ?? null };
  const map = foragingMap(site, dances, feeders, settings, (share) => progress('Mapping', share));
  const written = options.out === undefined ? [] : await writeMap(options.out, site, map);
  const listed = written.length === 0 ? '' : `\nWritten: ${written.join(', ')}\n`;
  process.stdout.write(
    options.json ? `${mapJson(map, options.weight)}\n` : `${mapText(map, options.weight)}${listed}`,
  );
}
