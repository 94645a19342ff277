import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { z } from 'zod';
import { InputError } from '../../input-error.ts';
import { readCalibration } from '../calibration-record.ts';
import { readTable } from '../csv.ts';
import type { StoreHistory } from '../store/history.ts';
import type { Change, DanceState, RowStates, SoundState } from '../store/rows.ts';
import type { ReviewEvent } from '../study-schemas.ts';
import { splitIds } from './id-lists.ts';
import { checkedState, checkId, checkRecordings, fileWithin } from './import-checks.ts';
import { exportSchemas, type RowOf, type TableName } from './schemas.ts';

/** The tables of an exported study, as importing takes them. */
export interface ImportedTables {
  readonly recordings: readonly RowOf<'recordings'>[];
  readonly history: StoreHistory;
  /** What trains.csv, calls.csv and dances.csv say, whatever the events say. */
  readonly rows: RowStates;
}

interface Placed<N extends TableName> {
  readonly row: RowOf<N>;
  readonly line: number;
}

/**
 * Reads an exported study. recordings.csv, trains.csv, calls.csv and dances.csv must be there; without the other
 * tables the study has their rows and no history.
 *
 * @throws InputError, with row and column, for a table that is wrong or that names what no other table has
 */
export async function readExport(folder: string): Promise<ImportedTables> {
  const file = (name: TableName) => join(folder, `${name}.csv`);
  const read = async <N extends TableName>(name: N, optional: boolean): Promise<Placed<N>[]> => {
    const path = await fileWithin(folder, `${name}.csv`);
    if (optional && !existsSync(path)) return [];
    const schema = exportSchemas[name] as unknown as z.ZodObject<z.ZodRawShape>;
    return (await readTable(path, schema)) as unknown as Placed<N>[];
  };
  const recordings = await read('recordings', false);
  const trains = await read('trains', false);
  const calls = await read('calls', false);
  const dances = await read('dances', false);
  const detections = await read('detections', true);
  const detected = await read('detected_sounds', true);
  const pulses = await read('pulses', true);
  const events = await read('events', true);
  const saved = await read('calibrations', true);

  checkRecordings(file('recordings'), recordings);
  unique(file('recordings'), 'stem', recordings);
  unique(file('recordings'), 'sha256', recordings);
  const recordingIds = unique(file('recordings'), 'recording_id', recordings);
  const detectionIds = unique(file('detections'), 'detection_id', detections);
  unique(file('events'), 'event_id and target', events, ({ event_id, target }) => `${event_id} ${target}`);
  const danceIds = unique(file('dances'), 'dance_id', dances);
  for (const [name, rows] of Object.entries({ trains, calls, dances, detections, events })) {
    for (const placed of rows) known(file(name as TableName), placed, 'recording_id', recordingIds);
  }
  for (const [name, rows] of Object.entries({ trains, calls, detected_sounds: detected, pulses })) {
    for (const placed of rows) known(file(name as TableName), placed, 'detection_id', detectionIds);
  }
  for (const placed of trains) known(file('trains'), placed, 'dance_id', danceIds);
  for (const { row, line } of trains) checkId(file('trains'), line, 'train_id', row.train_id);
  const sounds: readonly Placed<'trains' | 'calls'>[] = [...trains, ...calls];
  const soundIds = unique(file('calls'), 'call_id', sounds, (row) =>
    'train_id' in row ? row.train_id : row.call_id,
  );
  checkSpans(file('trains'), trains);
  checkSpans(file('calls'), calls);
  const timesOf = gatherPulses(pulses.map(({ row }) => row));
  return {
    recordings: recordings.map(({ row }) => row),
    history: {
      addedAt: new Map(recordings.map(({ row }) => [row.recording_id, row.added_at])),
      detections: detections.map((placed) => detectionOf(file('detections'), placed)),
      detectedSounds: detected.map(({ row }) => detectedSoundOf(row, timesOf)),
      events: eventsOf(file('events'), events),
      calibrations: await Promise.all(saved.map(({ row }) => calibrationOf(folder, row))),
    },
    rows: {
      sounds: Object.fromEntries([...soundIds].map(([id, { row }]) => [id, soundOf(row)])),
      dances: Object.fromEntries(dances.map(({ row }) => [row.dance_id, danceOf(row)])),
    },
  };
}

/** Rows by what must stand once in a table. */
function unique<R>(
  file: string,
  column: string,
  rows: readonly { readonly row: R; readonly line: number }[],
  keyOf: (row: R) => unknown = (row) => row[column as keyof R],
): Map<string, { readonly row: R; readonly line: number }> {
  const byKey = new Map<string, { row: R; line: number }>();
  for (const placed of rows) {
    const key = String(keyOf(placed.row));
    checkId(file, placed.line, column, key);
    const earlier = byKey.get(key);
    if (earlier !== undefined) {
      throw new InputError({
        file,
        place: `row ${placed.line}, column ${column}`,
        found: `${JSON.stringify(key)} again, as in row ${earlier.line}`,
        wanted: 'each once',
      });
    }
    byKey.set(key, placed);
  }
  return byKey;
}

function known(
  file: string,
  { row, line }: { readonly row: object; readonly line: number },
  column: string,
  keys: ReadonlyMap<string, unknown>,
): void {
  const key = (row as Record<string, unknown>)[column];
  if (key === null || keys.has(String(key))) return;
  throw new InputError({
    file,
    place: `row ${line}, column ${column}`,
    found: JSON.stringify(key),
    wanted: `one that the table of ${column === 'dance_id' ? 'dances' : column.replace('_id', 's')} has`,
  });
}

function checkSpans(file: string, rows: readonly Placed<'trains' | 'calls'>[]): void {
  for (const { row, line } of rows) {
    if (row.end_s > row.start_s) continue;
    throw new InputError({
      file,
      place: `row ${line}, column end_s`,
      found: String(row.end_s),
      wanted: 'an end after the start',
    });
  }
}

function gatherPulses(pulses: readonly RowOf<'pulses'>[]) {
  const times = new Map<string, number[]>();
  for (const { detection_id, sound_id, time_s } of pulses) {
    const key = `${detection_id} ${sound_id}`;
    const own = times.get(key);
    if (own === undefined) times.set(key, [time_s]);
    else own.push(time_s);
  }
  return (detectionId: number, soundId: string) => times.get(`${detectionId} ${soundId}`);
}

function detectedSoundOf(
  row: RowOf<'detected_sounds'>,
  timesOf: ReturnType<typeof gatherPulses>,
): StoreHistory['detectedSounds'][number] {
  return {
    detectionId: row.detection_id,
    soundId: row.sound_id,
    kind: row.kind,
    channel: row.channel,
    startS: row.start_s,
    endS: row.end_s,
    carrierHz: row.carrier_hz,
    snrDb: row.snr_db,
    confidence: row.confidence,
    pulseTimesS: row.pulse_count === null ? null : (timesOf(row.detection_id, row.sound_id) ?? []),
  };
}

async function calibrationOf(
  folder: string,
  row: RowOf<'calibrations'>,
): Promise<StoreHistory['calibrations'][number]> {
  return {
    id: row.calibration_id,
    name: row.name,
    at: row.at,
    reviewer: row.reviewer,
    danceIds: splitIds(row.dance_ids),
    record: await readCalibration(await fileWithin(folder, row.file)),
  };
}

function detectionOf(file: string, placed: Placed<'detections'>): StoreHistory['detections'][number] {
  const { row } = placed;
  return {
    id: row.detection_id,
    recordingId: row.recording_id,
    settingsHash: row.settings_hash,
    settings: jsonOf(file, placed, 'settings'),
    combtoneVersion: row.combtone_version,
    madeAt: row.made_at,
    changes: { kept: row.kept, same: row.same, new: row.new, gone: row.gone },
  };
}

function jsonOf(
  file: string,
  { row, line }: { readonly row: object; readonly line: number },
  column: string,
): unknown {
  const cell = (row as Record<string, string | null>)[column]!;
  if (cell === null) return null;
  try {
    return JSON.parse(cell);
  } catch {
    const shown = cell.length > 60 ? `${cell.slice(0, 60)}…` : cell;
    throw new InputError({
      file,
      place: `row ${line}, column ${column}`,
      found: JSON.stringify(shown),
      wanted: 'JSON',
    });
  }
}

/** Events in order, each with the rows that it wrote. */
function eventsOf(file: string, rows: readonly Placed<'events'>[]): StoreHistory['events'] {
  const events = new Map<
    number,
    { event: Omit<ReviewEvent, 'targets'>; targets: string[]; change: Change }
  >();
  for (const placed of rows) {
    const { row } = placed;
    const made = events.get(row.event_id) ?? {
      event: {
        id: row.event_id,
        at: row.at,
        reviewer: row.reviewer,
        kind: row.kind,
        recordingId: row.recording_id,
        undoOf: row.undo_of,
      },
      targets: [],
      change: { before: { sounds: {}, dances: {} }, after: { sounds: {}, dances: {} } },
    };
    events.set(row.event_id, made);
    if (row.target === null || row.target_kind === null) continue;
    const table = row.target_kind === 'sound' ? 'sounds' : 'dances';
    const states = made.change as {
      [W in 'before' | 'after']: Record<typeof table, Record<string, unknown>>;
    };
    checkId(file, placed.line, 'target', row.target);
    for (const when of ['before', 'after'] as const) {
      const state = jsonOf(file, placed, when);
      states[when][table][row.target] = checkedState(file, placed.line, when, row.target_kind, state);
    }
    if (row.kind !== 'detect' && row.kind !== 'import') made.targets.push(row.target);
  }
  return [...events.values()]
    .map(({ event, targets, change }) => ({ ...event, targets, change }))
    .sort((a, b) => a.id - b.id);
}

function soundOf(row: RowOf<'trains'> | RowOf<'calls'>): SoundState {
  return {
    recordingId: row.recording_id,
    channel: row.channel,
    kind: 'kind' in row ? row.kind : 'train',
    startS: row.start_s,
    endS: row.end_s,
    danceId: 'dance_id' in row ? row.dance_id : null,
    pulseCount: row.pulse_count,
    pulseRateHz: row.pulse_rate_hz,
    carrierHz: row.carrier_hz,
    snrDb: row.snr_db,
    confidence: row.confidence,
    status: row.status,
    edited: row.edited,
    detectionId: row.detection_id,
    sources: splitIds(row.sources),
  };
}

function danceOf(row: RowOf<'dances'>): DanceState {
  const feederSet = row.feeder_source === 'reviewer';
  return {
    recordingId: row.recording_id,
    channel: row.channel,
    beeId: row.bee_id,
    paintMark: row.paint_mark,
    feederId: feederSet ? row.feeder_id : null,
    feederSet,
    treatment: row.treatment,
    combAngleDeg: row.comb_angle_deg,
    note: row.note,
  };
}
