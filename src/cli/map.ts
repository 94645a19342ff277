import { type Command, Option } from 'commander';
import { InputError } from '../input-error.ts';
import { mapWeights } from '../study/map-weights.ts';
import { addHiveOptions } from './bearing.ts';
import type { MapOptions, MapSource } from './map-run.ts';
import { between } from './numbers.ts';

const example = `
Example:
  $ combtone map --estimates estimates.csv --bearings bearings.csv --latitude 51.2 --longitude 9.4 --out map
  from what combtone estimate and combtone bearing wrote; puts into the folder map
    map.geojson   regions of 50, 80 and 95 % of each dance and of all together, hive, goals, feeders
    density.asc   dances per hectare on a grid for GIS, metres east and north of the hive, with density.prj
    places.csv    one row per dance
  $ combtone map --study summer --out map
  the same for the dances of a study that have no feeder, by its newest calibration and the comb angles noted in it

The distance of a dance of another treatment than the curve's, such as a loaded bee's, may be wrong: it is left out,
with a word, unless --all-treatments is given.
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
    .option('--all-treatments', 'map dances of another treatment than the curve’s too')
    .option('--cell <m>', 'side of the cells of density.asc', between('--cell', 0.1, 10_000))
    .option('--out <folder>', 'folder to write the map into')
    .option('--json', 'print regions and places as JSON')
    .addHelpText('after', example)
    .action(async (options: MapOptions) => {
      const source = sourceOf(options);
      const { runMap } = await import('./map-run.ts');
      await runMap(source, options);
    });
}

/** @throws InputError where the call lacks a table, or gives more than a study alone takes */
function sourceOf(options: MapOptions): MapSource {
  const { estimates, bearings, study } = options;
  if (estimates === undefined && bearings === undefined && study !== undefined) {
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
    return { study };
  }
  if (estimates === undefined || bearings === undefined) {
    const missing = estimates === undefined ? '--estimates' : '--bearings';
    throw new InputError({
      file: missing,
      found: 'no table',
      wanted: 'both --estimates and --bearings, or --study alone for the dances of a study',
    });
  }
  return { estimates, bearings };
}
