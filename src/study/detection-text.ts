import { basename } from 'node:path';
import { callKindNames } from '../dance/call-kinds/registry.ts';
import type { RecordingDetection } from './detect-recording.ts';
import type { DanceRow } from './tables.ts';
import { cell, textTable } from './text-table.ts';

/** One line per recording: length, what was found. */
export function recordingsText(detections: readonly RecordingDetection[]): string {
  return textTable([
    ['recording', 'minutes', 'start', 'runs', 'dances', ...callKindNames],
    ...detections.map(({ info, trains, calls, dances }) => [
      fileName(info.path),
      (info.durationS / 60).toFixed(1),
      info.startTime ?? 'unknown',
      String(trains.length),
      String(dances.length),
      ...callKindNames.map((kind) => String(calls.filter((call) => call.kind === kind).length)),
    ]),
  ]);
}

/** One line per channel: how well it was recorded and what dance sound there was. */
export function channelsText(detections: readonly RecordingDetection[]): string {
  return textTable([
    [
      'recording',
      'channel',
      'usable min',
      'clipped %',
      'drop-outs',
      'their s',
      'noise dBFS',
      'median SNR dB',
      'carrier Hz',
    ],
    ...detections.flatMap(({ info, channels }) =>
      channels.map((one) => [
        fileName(info.path),
        String(one.channel),
        one.usableMinutes.toFixed(1),
        (100 * one.clippedShare).toFixed(2),
        String(one.dropOutCount),
        one.dropOutS.toFixed(2),
        one.noiseDb.toFixed(0),
        cell(one.medianSnrDb, 1),
        cell(one.carrierHz, 0),
      ]),
    ),
  ]);
}

const MOST_DANCES = 20;

/** One line per dance, up to twenty. */
export function dancesText(dances: readonly DanceRow[]): string {
  if (dances.length === 0) return 'No dances found.';
  const shown = dances.slice(0, MOST_DANCES);
  const table = textTable([
    ['dance', 'start s', 'runs', 'used', 'mean run s', 'SD s', 'return s', 'circuits per 15 s', 'carrier Hz'],
    ...shown.map((dance) => [
      dance.dance_id,
      dance.start_s.toFixed(1),
      String(dance.run_count),
      String(dance.used_runs ?? ''),
      cell(dance.mean_duration_s, 3),
      cell(dance.sd_duration_s, 3),
      cell(dance.mean_return_s, 2),
      cell(dance.circuits_per_15s, 2),
      cell(dance.carrier_hz, 0),
    ]),
  ]);
  const more = dances.length - shown.length;
  return more > 0 ? `${table}\n… and ${more} more` : table;
}

const fileName = (path: string): string => basename(path);
