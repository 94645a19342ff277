import { realpath } from 'node:fs/promises';
import { isAbsolute, join, relative, sep } from 'node:path';
import { z } from 'zod';
import { InputError } from '../../input-error.ts';
import type { DanceState, SoundState } from '../store/rows.ts';
import { danceDetailsSchema, soundSchema } from '../study-schemas.ts';
import type { RowOf } from './schemas.ts';

/** What an exported study must keep to, since it may come from a stranger. */

interface Placed<R> {
  readonly row: R;
  readonly line: number;
}

/**
 * A file of an exported study.
 *
 * @returns its path, whether or not it is there
 * @throws InputError for a name or a link that leads out of the folder
 */
export async function fileWithin(folder: string, name: string): Promise<string> {
  const path = join(folder, name);
  const real = await realpath(path).catch(() => null);
  const isInside = (way: string) => way !== '' && !isAbsolute(way) && way.split(sep)[0] !== '..';
  const inside =
    isInside(relative(folder, path)) && (real === null || isInside(relative(await realpath(folder), real)));
  if (inside) return path;
  throw new InputError({
    file: path,
    found: 'a file outside the exported study',
    wanted: 'the files of one folder, as combtone export wrote them',
  });
}

// The longest that may be asked for in one window, and the most channels a WAVE header can name.
const MOST_S = 10_000_000;
const MOST_CHANNELS = 65_535;

/** @throws InputError for a recording with a place or a measure that no recording has */
export function checkRecordings(file: string, rows: readonly Placed<RowOf<'recordings'>>[]): void {
  for (const { row, line } of rows) {
    const refuse = (column: keyof RowOf<'recordings'>, wanted: string) => {
      throw new InputError({
        file,
        place: `row ${line}, column ${column}`,
        found: JSON.stringify(row[column]),
        wanted,
      });
    };
    if (/^(?:[a-z]:|[\\/])/i.test(row.path) || /\0/.test(row.path) || row.path.trim() === '')
      refuse('path', 'a place told from the study folder, such as ../recordings/hive.wav');
    if (/[/\0]/.test(row.stem) || ['', '.', '..', '__proto__'].includes(row.stem))
      refuse('stem', 'a file’s name without its ending');
    if (!/^[0-9a-f]{64}$/.test(row.sha256)) refuse('sha256', '64 hexadecimal digits');
    if (!(row.duration_s >= 0 && row.duration_s <= MOST_S)) refuse('duration_s', `0 to ${MOST_S} s`);
    if (!(row.sample_rate_hz > 0 && row.sample_rate_hz <= 1e7))
      refuse('sample_rate_hz', 'above 0, up to 1e7');
    if (row.channel_count > MOST_CHANNELS) refuse('channel_count', `1 to ${MOST_CHANNELS}`);
  }
}

/** @throws InputError for an id that JavaScript takes for something else */
export function checkId(file: string, line: number, column: string, id: string | null): void {
  if (id !== '__proto__') return;
  throw new InputError({
    file,
    place: `row ${line}, column ${column}`,
    found: JSON.stringify(id),
    wanted: 'an id such as hive-t0001',
  });
}

const sources = z.array(z.string());
const soundStateSchema = z.strictObject({
  ...soundSchema.omit({ id: true, version: true }).shape,
  sources,
}) satisfies z.ZodType<SoundState>;
const { beeId, paintMark, feederId, treatment, combAngleDeg, note } = danceDetailsSchema.shape;
const danceStateSchema = z.strictObject({
  recordingId: soundSchema.shape.recordingId,
  channel: soundSchema.shape.channel,
  beeId,
  paintMark,
  feederId,
  feederSet: z.boolean(),
  treatment,
  combAngleDeg,
  note,
}) satisfies z.ZodType<DanceState>;
const stateSchemas = { sound: soundStateSchema.nullable(), dance: danceStateSchema.nullable() };

/** A row as an event left or found it, held to what a row is. @throws InputError where it is none */
export function checkedState(
  file: string,
  line: number,
  column: 'before' | 'after',
  kind: 'sound' | 'dance',
  state: unknown,
): SoundState | DanceState | null {
  const result = stateSchemas[kind].safeParse(state);
  // As it was written, members in their order, so that exported again it is the same.
  if (result.success) return state as SoundState | DanceState | null;
  const { path, message } = result.error.issues[0]!;
  throw new InputError({
    file,
    place: `row ${line}, column ${column}`,
    found: `no row of a ${kind}: ${[...path.map(String), message].join(': ')}`,
    wanted: 'the row as combtone export wrote it',
  });
}
