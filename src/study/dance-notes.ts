import { DateTime } from 'luxon';
import { z } from 'zod';
import { instantOf } from '../bearing/local-time.ts';
import { InputError } from '../input-error.ts';
import { clockTimeAfter } from './clock.ts';
import { counted } from './counted.ts';
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

/** The rows of a sheet: those that can be noted, and what stands in the way of each of the others. */
export interface NoteSheet {
  readonly notes: readonly PlacedNote[];
  readonly refused: readonly { readonly line: number; readonly error: InputError }[];
}

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
 * give or take 15 s. Empty cells change nothing, `-` takes back what was noted (a feeder is then by the openings again);
 * `none` for a feeder says that the dance is to a place nobody knows.
 *
 * @returns with the rows that are refused: a time that is none, a dance that is not there, a time when none or several
 *   were danced, a dance that an earlier row goes to, a feeder that is not in feeders.csv, a row without anything noted
 * @throws InputError for a table that cannot be read
 */
export async function readDanceNotes(file: string, view: StudyView): Promise<NoteSheet> {
  const dances = timedDances(view);
  const feeders = view.places.feeders.map(({ feederId }) => feederId);
  const rows = await readTable(file, danceNoteSchema, {
    missing: (has) => (has('time') || has('dance_id') ? null : 'time, or dance_id'),
    beside: [],
  });
  const taken = new Map<string, SheetRow>();
  const notes: PlacedNote[] = [];
  const refused: { line: number; error: InputError }[] = [];
  for (const { row, line } of rows) {
    const refuse: Refuse = (column, found, wanted) =>
      new InputError({ file, place: `row ${line}, column ${column}`, found, wanted });
    try {
      const dance = danceOf(row, dances, view, refuse);
      const earlier = taken.get(dance.id);
      if (earlier !== undefined) throw refusedSecond({ row, line }, earlier, dance, dances, view, refuse);
      taken.set(dance.id, { row, line });
      notes.push({ line, dance, changes: changesNoted(row, feeders, refuse) });
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      refused.push({ line, error });
    }
  }
  return { notes, refused };
}

interface SheetRow {
  readonly row: NoteRow;
  readonly line: number;
}

type Refuse = (column: string, found: string, wanted: string) => InputError;

/** Two rows on one dance: the observer saw two where one was found, or wrote of one twice. */
function refusedSecond(
  { row, line }: SheetRow,
  earlier: SheetRow,
  dance: Dance,
  dances: readonly TimedDance[],
  view: StudyView,
  refuse: Refuse,
): InputError {
  const zone = view.study.settings.hive.timeZone;
  const timed = dances.find((one) => one.dance.id === dance.id);
  const named = `dance ${timed === undefined ? dance.id : spanWords(timed, zone)}`;
  const here = row.dance_id === null ? whereWords(row.time, timed, zone) : null;
  const there = earlier.row.dance_id === null ? whereWords(earlier.row.time, timed, zone) : null;
  const found = here === null ? named : `${here.time}, ${here.away ?? 'in'} ${named}`;
  const before = there === null ? '' : ` (${there.time}${there.away === null ? '' : `, ${there.away} it`})`;
  return refuse(
    here === null ? 'dance_id' : 'time',
    `${found}, to which row ${earlier.line}${before} goes already`,
    `one row for each dance: if two were danced there, divide it on the page (combtone review ${view.study.folder}: ` +
      'press the first run of the second on the ladder, its others with Shift, then Shift+D); ' +
      `if one was, leave out row ${earlier.line} or row ${line}`,
  );
}

/** A noted time, and how far it is from a dance: `8 s after`, or null within it. */
function whereWords(time: string | null, timed: TimedDance | undefined, zone: string | null) {
  const reading = time === null ? null : instantOf(time, zone);
  if (timed === undefined || !reading?.ok) return null;
  const seconds = (ms: number) => `${Math.max(1, Math.round(ms / 1000))} s`;
  const { instant } = reading;
  const away =
    instant < timed.fromMs
      ? `${seconds(timed.fromMs - instant)} before`
      : instant > timed.toMs
        ? `${seconds(instant - timed.toMs)} after`
        : null;
  return { time: JSON.stringify(time), away };
}

function changesNoted(row: NoteRow, feeders: readonly string[], refuse: Refuse): PlacedNote['changes'] {
  const words = [noFeeder, TAKEN_BACK];
  if (row.feeder_id !== null && !words.includes(row.feeder_id) && !feeders.includes(row.feeder_id)) {
    const wanted = `a feeder of feeders.csv, ${noFeeder} for a dance to a place nobody knows, or ${TAKEN_BACK} to go by openings.csv`;
    throw refuse('feeder_id', JSON.stringify(row.feeder_id), wanted);
  }
  const changes = changesOf(row);
  if (Object.keys(changes).length > 0) return changes;
  throw refuse('comb_angle_deg', 'a row with nothing noted', 'a bee, mark, feeder, treatment, angle or note');
}

/** What is to be said of a sheet with refused rows when each of them has been told: nothing of it is noted. */
export function sheetRefused(file: string, { notes, refused }: NoteSheet): InputError {
  const alone = refused.length === 1;
  const rest =
    notes.length === 0
      ? ''
      : ` or left out: ${notes.length === 1 ? 'the other row is' : `the other ${notes.length} rows are`} fine (${rowsWords(notes)})`;
  return new InputError({
    file,
    found:
      `${counted(refused.length, 'row')} that cannot be noted as ${alone ? 'it is' : 'they are'} ` +
      `(${rowsWords(refused)}), so that nothing was noted`,
    wanted: `${alone ? 'it' : 'them'} mended${rest}`,
  });
}

/** `2, 4 to 8 and 10`. */
function rowsWords(rows: readonly { readonly line: number }[]): string {
  const stretches: { from: number; to: number }[] = [];
  for (const { line } of rows) {
    const last = stretches.at(-1);
    if (last?.to === line - 1) last.to = line;
    else stretches.push({ from: line, to: line });
  }
  const words = stretches.flatMap(({ from, to }) =>
    to - from > 1 ? [`${from} to ${to}`] : from === to ? [`${from}`] : [`${from}`, `${to}`],
  );
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

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

function danceOf(row: NoteRow, dances: readonly TimedDance[], view: StudyView, refuse: Refuse): Dance {
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
  const given = Object.entries(noted).filter(([, value]) => value !== null);
  const changes = Object.fromEntries(given.map(([key, value]) => [key, value === TAKEN_BACK ? null : value]));
  // Said outright, so that the openings tie the dance to no feeder.
  if (row.feeder_id === noFeeder) return { ...changes, feederId: null };
  return row.feeder_id === TAKEN_BACK ? { ...changes, feederId: 'auto' } : changes;
}

/** A cell that takes back what was noted. */
const TAKEN_BACK = '-';

const NOTED_NAMES = {
  beeId: 'bee',
  paintMark: 'mark',
  feederId: 'feeder',
  treatment: 'treatment',
  combAngleDeg: 'angle',
  note: 'note',
} as const;

/** What a note changes of what had been noted before, in words: `feeder cedar -> dogwood`. */
export function replacedWords({ dance, changes }: PlacedNote): string[] {
  const keys = Object.keys(NOTED_NAMES) as (keyof typeof NOTED_NAMES)[];
  return keys.flatMap((key) => {
    const [before, after] = [dance[key], changes[key]];
    const wasNoted = key === 'feederId' ? dance.feederSource === 'reviewer' : before !== null;
    if (after === undefined || !wasNoted || before === after) return [];
    const now = after === 'auto' ? 'by openings.csv' : (after ?? 'none');
    return [`${NOTED_NAMES[key]} ${before ?? 'none'} -> ${now}`];
  });
}
