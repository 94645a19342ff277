import { DateTime } from 'luxon';
import { z } from 'zod';
import { instantOf } from '../bearing/local-time.ts';
import { InputError } from '../input-error.ts';
import { clockTimeAfter } from './clock.ts';
import { readTable } from './csv.ts';
import { noFeeder } from './feeders.ts';
import { applyEdit } from './store/edit.ts';
import type { Dance, Edit } from './study-schemas.ts';
import { listDances, type StudyView } from './study-view.ts';

const angle = 'degrees clockwise from straight up, from -180 to 360';
const name = z.string().max(120, 'at most 120 characters').nullable();

/** In: what an observer at the hive noted of dances, one row per dance, by clock time or by dance_id. */
const danceNoteSchema = z.object({
  time: z.string().nullable(),
  dance_id: z.string().nullable(),
  bee_id: name,
  paint_mark: name,
  feeder_id: name,
  treatment: name,
  comb_angle_deg: z.number().min(-180, angle).max(360, angle).nullable(),
  note: z.string().max(2000, 'at most 2000 characters').nullable(),
});

type NoteRow = z.infer<typeof danceNoteSchema>;

/** A note and the dance it is of. */
export interface PlacedNote {
  readonly line: number;
  readonly dance: Dance;
  readonly changes: Extract<Edit, { kind: 'dance' }>['changes'];
}

// An observer's clock and the recorder's are not one, and she writes when the dance is over.
const slackS = 15;

/**
 * Reads an observer's notes and finds the dance of each: that of its dance_id, or the one that was danced at its time,
 * give or take 15 s. Empty cells change nothing; `none` for a feeder says that the dance is to a place nobody knows.
 *
 * @throws InputError, with the row, for a time that is none, a dance that is not there, a time when none or several
 *   were danced, a dance noted twice, a feeder that is not in feeders.csv, a row without anything noted
 */
export async function readDanceNotes(file: string, view: StudyView): Promise<PlacedNote[]> {
  const dances = timedDances(view);
  const feeders = view.places.feeders.map(({ feederId }) => feederId);
  const seen = new Map<string, number>();
  const rows = await readTable(file, danceNoteSchema, {
    missing: (has) => (has('time') || has('dance_id') ? null : 'time, or dance_id'),
    beside: [],
  });
  return allOrNone(rows, ({ row, line }) => {
    const refuse = (column: string, found: string, wanted: string): InputError =>
      new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
    const dance = danceOf(row, dances, view, refuse);
    const earlier = seen.get(dance.id);
    if (earlier !== undefined) {
      throw refuse(
        row.dance_id === null ? 'time' : 'dance_id',
        `dance ${dance.id}, which row ${earlier} has already`,
        'one row for each dance',
      );
    }
    seen.set(dance.id, line);
    if (row.feeder_id !== null && row.feeder_id !== noFeeder && !feeders.includes(row.feeder_id)) {
      const wanted = `a feeder of feeders.csv, or ${noFeeder} for a dance to a place nobody knows`;
      throw refuse('feeder_id', JSON.stringify(row.feeder_id), wanted);
    }
    const changes = changesOf(row);
    if (Object.keys(changes).length === 0) {
      throw refuse(
        'comb_angle_deg',
        'a row with nothing noted',
        'a bee, mark, feeder, treatment, angle or note',
      );
    }
    return { line, dance, changes };
  });
}

/** Does all rows; where some are refused, the first refusal tells how many more there are, and where. */
function allOrNone<Row extends { readonly line: number }, Done>(
  rows: readonly Row[],
  doOne: (row: Row) => Done,
): Done[] {
  const done: Done[] = [];
  const refused: { readonly line: number; readonly error: InputError }[] = [];
  for (const row of rows) {
    try {
      done.push(doOne(row));
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      refused.push({ line: row.line, error });
    }
  }
  const [first, ...others] = refused;
  if (first === undefined) return done;
  if (others.length === 0) throw first.error;
  const lines = others.slice(0, MOST_ROWS_NAMED).map(({ line }) => line);
  const more = others.length > lines.length ? ` and ${others.length - lines.length} more` : '';
  const { badInput } = first.error;
  throw new InputError({
    ...badInput,
    wanted: `${badInput.wanted} (nothing was noted; refused are row${lines.length > 1 ? 's' : ''} ${lines.join(', ')}${more} too)`,
  });
}

const MOST_ROWS_NAMED = 20;

/** Writes notes into the study, each as the edit of a reviewer; all of them or, where one fails, none. */
export function applyDanceNotes({ study }: StudyView, notes: readonly PlacedNote[], reviewer: string): void {
  const write = study.store.transaction(() => {
    for (const { dance, changes } of notes) {
      const target = { id: dance.id, version: dance.version };
      applyEdit(study.store, { kind: 'dance', target, changes }, { reviewer });
    }
  });
  write.immediate();
}

interface TimedDance {
  readonly dance: Dance;
  readonly fromMs: number;
  readonly toMs: number;
}

function timedDances(view: StudyView): TimedDance[] {
  const { timeZone } = view.study.settings.hive;
  return listDances(view).flatMap((dance) => {
    const start = clockTimeAfter(dance.startTime, 0);
    const reading = start === null ? null : instantOf(start, timeZone);
    if (!reading?.ok) return [];
    return [{ dance, fromMs: reading.instant, toMs: reading.instant + 1000 * (dance.endS - dance.startS) }];
  });
}

function danceOf(
  row: NoteRow,
  dances: readonly TimedDance[],
  view: StudyView,
  refuse: (column: string, found: string, wanted: string) => InputError,
): Dance {
  if (row.dance_id !== null) {
    const dance = listDances(view).find(({ id }) => id === row.dance_id);
    if (dance !== undefined) return dance;
    throw refuse('dance_id', JSON.stringify(row.dance_id), 'a dance of the study that has a run left');
  }
  if (row.time === null) throw refuse('time', 'an empty cell', 'a time, or a dance_id');
  const reading = instantOf(row.time, view.study.settings.hive.timeZone);
  if (!reading.ok) throw refuse('time', reading.found, reading.wanted);
  const { instant } = reading;
  const within = (slackMs: number) =>
    dances.filter(({ fromMs, toMs }) => instant >= fromMs - slackMs && instant <= toMs + slackMs);
  const exact = within(0);
  const fits = exact.length > 0 ? exact : within(1000 * slackS);
  if (fits.length === 1) return fits[0]!.dance;
  const zone = view.study.settings.hive.timeZone;
  const found =
    fits.length === 0
      ? `${JSON.stringify(row.time)}, when no dance was found${nearestWords(instant, dances, zone)}`
      : `${JSON.stringify(row.time)}, when ${fits.map((one) => spanWords(one, zone)).join(' and ')} were danced`;
  throw refuse('time', found, 'a time when one dance alone was danced, or its dance_id');
}

/** `d0003 (09:01:38 to 09:02:08)`, by the clock at the hive. */
function spanWords({ dance, fromMs, toMs }: TimedDance, zone: string | null): string {
  const clock = (ms: number) => DateTime.fromMillis(ms, { zone: zone ?? 'utc' }).toFormat('HH:mm:ss');
  return `${dance.id} (${clock(fromMs)} to ${clock(toMs)})`;
}

function nearestWords(instant: number, dances: readonly TimedDance[], zone: string | null): string {
  const away = ({ fromMs, toMs }: TimedDance) => Math.max(fromMs - instant, instant - toMs);
  const [first, ...others] = dances;
  if (first === undefined) return '';
  const nearest = others.reduce((best, one) => (away(one) < away(best) ? one : best), first);
  return `; the nearest is ${spanWords(nearest, zone)}`;
}

function changesOf(row: NoteRow): PlacedNote['changes'] {
  const combAngleDeg = row.comb_angle_deg === null ? null : ((row.comb_angle_deg % 360) + 360) % 360;
  const noted = {
    beeId: row.bee_id,
    paintMark: row.paint_mark,
    feederId: row.feeder_id,
    treatment: row.treatment,
    combAngleDeg,
    note: row.note,
  };
  const changes = Object.fromEntries(Object.entries(noted).filter(([, value]) => value !== null));
  // Said outright, so that the openings tie the dance to no feeder.
  return row.feeder_id === noFeeder ? { ...changes, feederId: null } : changes;
}
