import type { Site } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import type { ClockFindings } from '../study/day/clock-words.ts';
import type { MapWeight } from '../study/map-weights.ts';
import { type ForagingMap, foragingMap, type MapSettings } from '../study/maps.ts';
import { type MapDance, readMapDances } from '../study/maps-input.ts';
import { mapJson, mapText, writeMap } from '../study/maps-output.ts';
import { isOtherTreatment, unmappedReason } from '../study/other-treatment.ts';
import { type HiveOptions, hivePlace, readFeederPlaces } from '../study/places.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces, siteOf } from '../study/study-folder.ts';
import { studyMap } from '../study/study-map.ts';
import { studyView } from '../study/study-view.ts';
import { tellClock } from './clock-warning.ts';
import { tellLeftOut } from './left-out.ts';
import { tellOtherTreatments } from './other-treatments.ts';
import { progressLine } from './progress.ts';
import { tellStale } from './stale-calibration.ts';

export interface MapOptions extends HiveOptions {
  readonly estimates?: string;
  readonly bearings?: string;
  readonly posteriors?: string;
  readonly feeders?: string;
  readonly weight: MapWeight;
  readonly allTreatments?: boolean;
  readonly cell?: number;
  readonly out?: string;
  readonly json?: boolean;
}

/** Where distances and bearings are: in two tables, or in a study. */
export type MapSource =
  | { readonly estimates: string; readonly bearings: string }
  | { readonly study: string };

/** Maps places that dances tell of, and writes and prints the map. */
export async function runMap(source: MapSource, options: MapOptions): Promise<void> {
  const settings = { weight: options.weight, cellM: options.cell ?? null };
  if ('study' in source) return mapOfStudy(source.study, settings, options);
  const { site } = await hivePlace(options);
  const feeders = options.feeders === undefined ? [] : await readFeederPlaces(options.feeders, site);
  const read = await readMapDances(source.estimates, source.bearings, options.posteriors);
  const dances = ownTreatments(read, options);
  tellOtherTreatments(dances.map(({ estimate }) => estimate));
  const progress = progressLine();
  const map = foragingMap(site, dances, feeders, settings, (share) => progress('Mapping', share));
  await tellMap(site, map, null, options);
}

/** The dances that are of the curve's treatment, unless all are asked for; the others are named. */
function ownTreatments(
  dances: readonly MapDance[],
  { allTreatments, json }: MapOptions,
): readonly MapDance[] {
  if (allTreatments === true) return dances;
  const others = dances.filter(({ estimate }) => isOtherTreatment(estimate));
  tellLeftOut(
    others.map(({ estimate }) => ({ danceId: estimate.dance_id, reason: unmappedReason(estimate) })),
    json === true,
    'not mapped',
  );
  return dances.filter((dance) => !others.includes(dance));
}

/** The map of a study's own dances: those to places that are no feeder. */
async function mapOfStudy(folder: string, settings: MapSettings, options: MapOptions): Promise<void> {
  const study = await openStudy(folder, true);
  try {
    const findings = studyFindings(studyView(study, await readPlaces(study)));
    tellStale(study);
    const clock = tellClock(study, findings);
    const { map, why, leftOut } = studyMap(study, findings, settings, options.allTreatments);
    const site = siteOf(study.settings);
    if (map === null || site === null) {
      throw new InputError({
        file: folder,
        found: `nothing to map: ${why}`,
        wanted: `dances with a distance (combtone calibrate --study ${folder}) and a comb angle (combtone study note ${folder})`,
      });
    }
    tellLeftOut(leftOut, options.json === true, 'not mapped');
    const mapped = new Set(map.places.map(({ dance_id }) => dance_id));
    tellOtherTreatments(
      findings.dances.flatMap(({ dance, estimated }) =>
        mapped.has(dance.id) && estimated !== null ? [estimated.row] : [],
      ),
    );
    await tellMap(site, map, clock, options);
  } finally {
    study.store.close();
  }
}

async function tellMap(
  site: Site,
  map: ForagingMap,
  clock: ClockFindings | null,
  options: MapOptions,
): Promise<void> {
  const written = options.out === undefined ? [] : await writeMap(options.out, site, map);
  const listed = written.length === 0 ? '' : `\nWritten: ${written.join(', ')}\n`;
  process.stdout.write(
    options.json ? `${mapJson(map, options.weight, clock)}\n` : `${mapText(map, options.weight)}${listed}`,
  );
}
