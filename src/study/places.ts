import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { type CombPosture, combPostures } from '../bearing/comb-angle.ts';
import { distanceAndBearing, goalOf } from '../bearing/geodesy.ts';
import { isTimeZone } from '../bearing/local-time.ts';
import type { Site } from '../bearing/sun.ts';
import { InputError } from '../input-error.ts';
import { readTable } from './csv.ts';
import { feederDoubt } from './feeder-doubts.ts';
import { feederNameWanted, missingPlaceColumn, noFeeder } from './feeders.ts';
import { warnOnce } from './warn.ts';

/** Where the hive stands, which clock it goes by, and how its comb stands. */
export interface HivePlace {
  readonly site: Site;
  /** Name of the IANA database; null when not told. */
  readonly timeZone: string | null;
  readonly posture: CombPosture;
}

/** What a call tells of the hive; what it leaves out comes from study.json. */
export interface HiveOptions {
  /** study.json, or the folder that it lies in. */
  readonly study?: string;
  readonly latitude?: number;
  readonly longitude?: number;
  readonly elevation?: number;
  readonly timeZone?: string;
  readonly comb?: CombPosture;
}

const settingsSchema = z.looseObject({
  hive: z
    .looseObject({
      latitude: z.number().nullish(),
      longitude: z.number().nullish(),
      elevationM: z.number().nullish(),
      timeZone: z.string().nullish(),
    })
    .nullish(),
  comb: z.looseObject({ orientation: z.enum(combPostures).nullish() }).nullish(),
});

/**
 * The hive's place from the options and study.json.
 *
 * @throws InputError for a study.json that cannot be read, coordinates off the earth, a hive without
 *   coordinates, and a time zone that there is not
 */
export async function hivePlace(options: HiveOptions): Promise<HivePlace> {
  const file = options.study === undefined ? undefined : studyFile(options.study);
  const settings = file === undefined ? {} : await readSettings(file);
  const { hive, comb } = settings;
  const from = (option: string, name: string, given: unknown) =>
    given !== undefined || file === undefined ? { file: option } : { file, place: `hive.${name}` };
  const latitudeDeg = options.latitude ?? hive?.latitude ?? null;
  const longitudeDeg = options.longitude ?? hive?.longitude ?? null;
  if (latitudeDeg === null || longitudeDeg === null) {
    const missing = latitudeDeg === null ? 'latitude' : 'longitude';
    throw new InputError({
      file: file ?? `--${missing}`,
      found: `a hive without ${missing}`,
      wanted: 'latitude and longitude of the hive: in hive of study.json, or --latitude and --longitude',
    });
  }
  checkDegrees(from('--latitude', 'latitude', options.latitude), latitudeDeg, 90, 'north');
  checkDegrees(from('--longitude', 'longitude', options.longitude), longitudeDeg, 180, 'east');
  const timeZone = options.timeZone ?? hive?.timeZone ?? null;
  if (timeZone !== null && !isTimeZone(timeZone)) {
    throw new InputError({
      ...from('--time-zone', 'timeZone', options.timeZone),
      found: `the time zone ${JSON.stringify(timeZone)}`,
      wanted: 'a name of the IANA time zone database, such as Europe/Berlin',
    });
  }
  return {
    site: { latitudeDeg, longitudeDeg, elevationM: options.elevation ?? hive?.elevationM ?? 0 },
    timeZone,
    posture: options.comb ?? comb?.orientation ?? 'vertical',
  };
}

function checkDegrees(
  where: { file: string; place?: string },
  value: number,
  most: number,
  way: string,
): void {
  if (Math.abs(value) <= most) return;
  throw new InputError({ ...where, found: String(value), wanted: `degrees ${way} from -${most} to ${most}` });
}

const studyFile = (path: string): string => (path.endsWith('.json') ? path : join(path, 'study.json'));

async function readSettings(file: string): Promise<z.infer<typeof settingsSchema>> {
  const wanted = 'a study.json with the hive’s latitude, longitude and timeZone under hive';
  let content: unknown;
  try {
    content = JSON.parse(await readFile(file, 'utf8'));
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    const found =
      code === 'ENOENT' ? 'no such file' : code === undefined ? 'text that is not JSON' : String(code);
    throw new InputError({ file, found, wanted });
  }
  const result = settingsSchema.safeParse(content);
  if (result.success) return result.data;
  const { path, message } = result.error.issues[0]!;
  throw new InputError({ file, place: path.join('.') || 'the whole', found: message, wanted });
}

/** A feeder at a known place. */
export interface FeederPlace {
  readonly feederId: string;
  readonly distanceM: number;
  /** Degrees clockwise from true north; null where the table gives a distance alone. */
  readonly bearingDeg: number | null;
  readonly latitudeDeg: number | null;
  readonly longitudeDeg: number | null;
}

const feederRowSchema = z.object({
  feeder_id: z.string(),
  distance_m: z.number().gt(0, 'metres above 0: a feeder away from the hive').nullable(),
  bearing_deg: z
    .number()
    .min(-180, 'degrees from -180 to 360')
    .max(360, 'degrees from -180 to 360')
    .nullable(),
  latitude: z.number().min(-90, 'degrees from -90 to 90').max(90, 'degrees from -90 to 90').nullable(),
  longitude: z.number().min(-180, 'degrees from -180 to 180').max(180, 'degrees from -180 to 180').nullable(),
});

// Two places nearer than this are one: coordinates are not given more finely.
const sameSpotM = 0.5;

/**
 * Reads feeders.csv: feeders by distance and bearing, or by coordinates, from which both are reckoned.
 *
 * @throws InputError, with the row, for a feeder at distance 0, coordinates off the earth, half a pair of
 *   coordinates, no place at all, and a feeder_id that stands twice or is `none`
 */
export async function readFeederPlaces(file: string, hive: Site): Promise<FeederPlace[]> {
  const seen = new Set<string>();
  const table = await readTable(file, feederRowSchema, {
    missing: missingPlaceColumn,
    beside: ['paint_mark'],
  });
  return table.map(({ row, line }) => {
    const refuse = (column: string, found: string, wanted: string): never => {
      throw new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
    };
    const { feeder_id: feederId, latitude, longitude } = row;
    if (seen.has(feederId))
      refuse('feeder_id', `feeder ${feederId} a second time`, 'one row for each feeder');
    seen.add(feederId);
    if (feederId === noFeeder) refuse('feeder_id', JSON.stringify(noFeeder), feederNameWanted);
    if (latitude !== null && longitude !== null) {
      const point = { latitudeDeg: latitude, longitudeDeg: longitude };
      const { distanceM, bearingDeg } = distanceAndBearing(hive, point);
      if (distanceM < sameSpotM) {
        refuse(
          'latitude',
          `feeder ${feederId} at distance 0: the coordinates of the hive`,
          'a feeder away from it',
        );
      }
      const doubt = feederDoubt(hive, row);
      if (doubt !== null) warnOnce(`${file}, row ${line}: ${doubt}`);
      return { feederId, distanceM, bearingDeg, ...point };
    }
    if (latitude !== null || longitude !== null) {
      const empty = latitude === null ? 'latitude' : 'longitude';
      refuse(empty, 'an empty cell', 'latitude and longitude together, or neither');
    }
    const { distance_m: distanceM, bearing_deg: bearingDeg } = row;
    if (distanceM === null) {
      return refuse('distance_m', 'an empty cell', 'distance_m and bearing_deg, or latitude and longitude');
    }
    const point = bearingDeg === null ? null : goalOf(hive, bearingDeg, distanceM);
    return {
      feederId,
      distanceM,
      bearingDeg,
      latitudeDeg: point?.latitudeDeg ?? null,
      longitudeDeg: point?.longitudeDeg ?? null,
    };
  });
}
