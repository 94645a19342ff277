/** What a column means; `unit` '' where it has none; `empty` where an empty cell means more than "unknown". */
export interface Meaning {
  readonly meaning: string;
  readonly unit?: string;
  readonly empty?: string;
}

/** What each table holds. */
export const tableMeanings: Readonly<Record<string, string>> = {
  recordings: 'One row for each recording of the study.',
  trains: 'One row for each pulse train, that is, for each waggle run heard or added; rejected ones too.',
  calls: 'One row for each call: sounds of bees that are not dance sound; rejected ones too.',
  dances: 'One row for each dance, with what was noted of it and what it was reckoned to tell.',
  estimates: 'One row for each dance with a run left: its distance by the newest calibration of the study.',
  bearings: 'One row for each dance with a run left: where it points by comb angle and sun.',
  feeders: 'One row for each feeder, as it was given.',
  openings: 'One row for each time that a feeder was open.',
  arrivals: 'One row for each arrival of a bee at a feeder.',
  day_dances:
    'One row for each dance with a run left: measures that go with how rewarding its source is, and its comb angle against that expected.',
  day_hours: 'One row for each hour of the day that something was recorded in, all days together.',
  day_arrivals: 'One row for each arrival at a feeder, with the dances for that feeder in the hour before.',
  calibrations: 'One row for each saved calibration; the whole of it is in `file`.',
  calibration_parameters: 'One row for each parameter of each curve of each calibration.',
  detections: 'One row for each detection: one search of one recording with one set of settings.',
  detected_sounds: 'One row for each sound that a detection found, as it found it, whatever became of it.',
  pulses: 'One row for each pulse of each detected train.',
  events:
    'One row for each row that an event wrote: all that was done, in order. An event that wrote none has one row.',
};

const clock = 'ISO 8601, with the offset from UTC where it is known';
const sample = { unit: 's', meaning: 'start, from the recording’s start' };
const noCircuit = 'no circuit that a used run begins was timed';
const byWhom = 'who last wrote the row, where that was a reviewer';

/** By column; `table.column` goes before it. */
export const columnMeanings: Readonly<Record<string, Meaning>> = {
  recording: { meaning: 'file name of the recording', empty: 'the event is of no recording' },
  recording_id: { meaning: 'number of the recording in the study', empty: 'the event is of no recording' },
  stem: { meaning: 'first part of the ids of what is found in the recording' },
  path: { meaning: 'place of the file, relative to the study folder' },
  sha256: { meaning: 'SHA-256 of the file’s bytes, hexadecimal: the recording’s identity' },
  byte_count: { meaning: 'size of the file', unit: 'bytes' },
  sample_rate_hz: { meaning: 'samples a second', unit: 'Hz' },
  channel_count: { meaning: 'channels of the recording' },
  'recordings.duration_s': { meaning: 'length of the recording', unit: 's' },
  'recordings.start_time': { meaning: 'clock time of the recording’s start', unit: clock },
  warnings: {
    meaning: 'what was wrong with the file, and starts that were corrected, one line each',
    empty: 'nothing was wrong',
  },
  added_at: { meaning: 'when the recording came into the study', unit: 'ISO 8601, UTC' },

  channel: { meaning: 'channel of the recording, from 1' },
  train_id: { meaning: 'id of the train' },
  call_id: { meaning: 'id of the call' },
  dance_id: { meaning: 'id of the dance', empty: 'the train is in no dance' },
  start_s: sample,
  end_s: { unit: 's', meaning: 'end, from the recording’s start' },
  'dances.start_s': {
    unit: 's',
    meaning: 'start of the first run, from the recording’s start',
    empty: 'no run is left',
  },
  'dances.end_s': {
    unit: 's',
    meaning: 'end of the last run, from the recording’s start',
    empty: 'no run is left',
  },
  duration_s: {
    meaning: 'end less start; of a train, offset of its last pulse less onset of its first',
    unit: 's',
  },
  pulse_count: { meaning: 'pulses of the train', empty: 'added by a reviewer, or no train' },
  pulse_rate_hz: { meaning: 'pulses a second', unit: 'Hz', empty: 'added by a reviewer, or no train' },
  carrier_hz: { meaning: 'carrier frequency; of a dance, the mean over its runs', unit: 'Hz' },
  snr_db: { meaning: 'mean power of a pulse over the background’s power in 200 to 400 Hz', unit: 'dB' },
  confidence: {
    meaning: 'share of sounds so judged by the detector that are real, 0 to 1',
    empty: 'added by a reviewer',
  },
  start_time: { meaning: 'clock time of the start', unit: clock },
  status: {
    meaning:
      'found: by the detector, not reviewed; accepted, rejected: reviewed; added: by a reviewer, not found by the detector',
  },
  kind: { meaning: 'kind of sound' },
  edited: {
    meaning: 'whether a reviewer judged, moved or changed the row, which then outlives a new detection',
  },
  detection_id: { meaning: 'detection that the row comes from', empty: 'added by a reviewer' },
  sources: {
    meaning:
      'sound_ids in detected_sounds, of that detection, whose pulses the row has; a semicolon between two',
    empty: 'added by a reviewer',
  },
  reviewer: { meaning: byWhom, empty: 'the detector or an import wrote it' },
  reviewed_at: { meaning: 'when that reviewer wrote it', unit: 'ISO 8601, UTC', empty: 'no reviewer did' },

  run_count: { meaning: 'runs of the dance that are not rejected', unit: 'runs' },
  used_runs: { meaning: 'runs that the means are taken of', unit: 'runs' },
  'dances.used_runs': {
    meaning:
      'runs that the means are taken of: all but the first and the last, or all where there are fewer than four',
    unit: 'runs',
  },
  'estimates.used_runs': {
    meaning:
      'runs that the means are taken of: as in dances.csv, unless the calibration was told to choose others',
    unit: 'runs',
  },
  mean_duration_s: { meaning: 'mean duration of the used runs', unit: 's' },
  sd_duration_s: {
    meaning: 'standard deviation of the used runs’ durations',
    unit: 's',
    empty: 'fewer than two runs',
  },
  mean_return_s: {
    meaning: 'mean length of the return phases of the circuits that the used runs begin',
    unit: 's',
    empty: noCircuit,
  },
  circuits_per_15s: {
    meaning: 'dance tempo: 15 s over the mean of the circuits that the used runs begin',
    unit: 'circuits per 15 s',
    empty: noCircuit,
  },
  bee_id: { meaning: 'the dancer', empty: 'not told apart' },
  paint_mark: { meaning: 'paint mark of the dancer, or of the bees of a feeder' },
  feeder_id: { meaning: 'feeder', empty: 'no feeder: the dance is to a place not known, or not yet told' },
  feeder_source: {
    meaning: 'whether the reviewer said so, or the openings make the feeder likely',
    empty: 'neither',
  },
  feeder_distance_m: { meaning: 'distance of that feeder from the hive', unit: 'm' },
  treatment: { meaning: 'treatment', empty: 'untreated, or not told' },
  curve_treatment: {
    meaning: 'treatment of the dances that the curve was fitted to',
    empty: 'the curve is of untreated bees',
  },
  comb_angle_deg: {
    meaning: 'comb angle of the dance, clockwise from straight up, from 0 to below 360',
    unit: 'degrees',
    empty: 'not read',
  },
  distance_m: {
    meaning: 'distance: median of what the calibration gives',
    unit: 'm',
    empty: 'not calibrated, or no distance to be read',
  },
  'feeders.distance_m': { meaning: 'distance from the hive', unit: 'm', empty: 'given by coordinates' },
  distance_low_m: { meaning: 'lower end of the distance’s interval', unit: 'm' },
  distance_high_m: { meaning: 'upper end of the distance’s interval', unit: 'm' },
  level: { meaning: 'probability that the interval holds', unit: '0 to 1' },
  in_range: {
    meaning: 'whether the distance lies between the nearest and the farthest feeder of the calibration',
  },
  bearing_deg: {
    meaning: 'bearing, clockwise from true north',
    unit: 'degrees',
    empty: 'no comb angle, hive without coordinates, or no sun',
  },
  'feeders.bearing_deg': { meaning: 'bearing from the hive, clockwise from true north', unit: 'degrees' },
  bearing_low_deg: { meaning: 'counterclockwise end of the bearing’s interval', unit: 'degrees' },
  bearing_high_deg: { meaning: 'clockwise end of the bearing’s interval', unit: 'degrees' },
  latitude: {
    meaning: 'latitude, WGS84, north positive; of a dance, of the place at its distance and bearing',
    unit: 'degrees',
  },
  longitude: {
    meaning: 'longitude, WGS84, east positive; of a dance, of the place at its distance and bearing',
    unit: 'degrees',
  },
  reviewed_runs: {
    meaning: 'runs that are not rejected and that a reviewer has judged, moved or changed',
    unit: 'runs',
  },
  flags: { meaning: 'what to beware of in the bearing', empty: 'nothing' },
  note: { meaning: 'remark', empty: 'none' },
  part_of: {
    meaning:
      'dance in an earlier recording that this one goes on from: its first part, in whose row distance, bearing and place of the whole dance stand; runs are each counted in the row of their own part',
    empty: 'a dance by itself, or the first part of one',
  },

  sun_azimuth_deg: {
    meaning: 'azimuth of the sun at the middle of the dance, clockwise from true north',
    unit: 'degrees',
  },
  sun_elevation_deg: { meaning: 'elevation of the sun’s centre, without refraction', unit: 'degrees' },
  circular_sd_deg: {
    meaning: 'circular standard deviation of the used runs',
    unit: 'degrees',
    empty: 'fewer than two runs with an angle',
  },
  kappa: {
    meaning: 'concentration (von Mises) of the used runs, corrected for small samples',
    empty: 'fewer than two runs with an angle',
  },
  mean_divergence_deg: {
    meaning: 'mean angle between successive runs',
    unit: 'degrees',
    empty: 'fewer than two runs with an angle',
  },
  misdirection_deg: {
    meaning: 'systematic misdirection that was taken off, clockwise',
    unit: 'degrees',
    empty: 'too few dances to feeders of known bearing',
  },
  direction_dof: {
    meaning: 'degrees of freedom of the interval’s t distribution',
    empty: 'the scatter was given, or there is no interval',
  },
  deviation_deg: {
    meaning: 'how far the dance points clockwise of its known feeder',
    unit: 'degrees',
    empty: 'no feeder of known bearing',
  },

  start: { meaning: 'when the feeder was opened', unit: clock },
  end: { meaning: 'when it was closed', unit: clock },
  time: { meaning: 'when the bee arrived', unit: clock },
  mark: { meaning: 'paint mark of the bee', empty: 'without a mark: a recruit, or a bee never marked' },

  hour: {
    meaning: 'hour of the day at the hive; of a dance, that of its middle, with its fraction',
    unit: 'h',
    empty: 'clock not known',
  },
  dance_duration_s: { meaning: 'from the start of the first run to the end of the last', unit: 's' },
  begging_calls: {
    meaning: 'begging calls on the same channel while the dance lasted; of an hour, in all its dances',
    unit: 'calls',
  },
  begging_calls_per_min: { meaning: 'the same a minute of dance', unit: 'calls per min', empty: 'no dance' },
  expected_comb_angle_deg: {
    meaning:
      'comb angle to expect from the feeder’s bearing and the sun, clockwise from straight up, from 0 to below 360',
    unit: 'degrees',
    empty: 'no feeder of known bearing, no clock, hive without coordinates, or comb not vertical',
  },
  recorded_min: { meaning: 'minutes recorded in that hour', unit: 'min' },
  'day_hours.dances': { meaning: 'dances in that hour', unit: 'dances' },
  dances_per_hour: {
    meaning: 'dances an hour recorded',
    unit: 'dances per h',
    empty: 'less than a minute recorded',
  },
  'day_hours.runs': { meaning: 'runs of those dances', unit: 'runs' },
  mean_run_count: { meaning: 'mean number of runs of a dance', unit: 'runs', empty: 'no dance' },
  mean_dance_duration_s: { meaning: 'mean length of a dance', unit: 's', empty: 'no dance' },
  mean_circuits_per_15s: {
    meaning: 'mean dance tempo',
    unit: 'circuits per 15 s',
    empty: 'no dance with a timed circuit',
  },
  recruit: { meaning: 'whether the bee bears no mark of a dancer or of a feeder’s trained bees' },
  last_dance_id: {
    meaning: 'dance for that feeder that began last before the arrival, within the hour',
    empty: 'none',
  },
  latency_s: {
    meaning: 'time from the start of that dance to the arrival',
    unit: 's',
    empty: 'no such dance',
  },
  dances_before: { meaning: 'dances for that feeder that began within the hour before', unit: 'dances' },
  runs_before: { meaning: 'runs of those dances', unit: 'runs' },
  calibration_id: { meaning: 'number of the calibration in the study' },
  name: { meaning: 'name it was saved under; saved again, the name means the newer' },
  at: { meaning: 'when it was done', unit: 'ISO 8601, UTC' },
  'events.reviewer': { meaning: 'who did it; combtone for detections and imports' },
  'calibrations.reviewer': { meaning: 'who saved it' },
  combtone_version: { meaning: 'version of the program' },
  curve: { meaning: 'curve of run duration', empty: 'duration is not calibrated' },
  tempo_curve: { meaning: 'curve of circuit time', empty: 'tempo is not calibrated' },
  feeders: { meaning: 'distances calibrated on' },
  bees: { meaning: 'bees calibrated on' },
  dances: { meaning: 'dances calibrated on' },
  runs: { meaning: 'runs calibrated on' },
  nearest_feeder_m: { meaning: 'distance of the nearest feeder', unit: 'm' },
  farthest_feeder_m: { meaning: 'distance of the farthest feeder', unit: 'm' },
  dance_ids: { meaning: 'dances calibrated on, a semicolon between two', empty: 'none named' },
  file: { meaning: 'file of the export that holds the whole calibration' },
  measure: { meaning: 'what the curve is of: run duration or circuit time' },
  parameter: { meaning: 'name of the parameter in the curve’s formula' },
  unit: { meaning: 'unit of the parameter', empty: 'none: a pure number' },
  value: { meaning: 'estimate', unit: 'that of the row' },
  standard_error: { meaning: 'standard error of the estimate', unit: 'that of the row' },

  settings_hash: { meaning: 'SHA-256 of the settings' },
  settings: { meaning: 'settings of the search, JSON' },
  made_at: { meaning: 'when the detection was made', unit: 'ISO 8601, UTC' },
  kept: { meaning: 'reviewed rows that stayed as they were' },
  same: { meaning: 'rows nobody had reviewed that were found again' },
  new: { meaning: 'sounds not found before' },
  gone: { meaning: 'rows nobody had reviewed that were not found again' },
  sound_id: { meaning: 'id of the sound' },
  pulse: { meaning: 'number of the pulse in the train, from 1' },
  time_s: { meaning: 'middle of the pulse, from the recording’s start', unit: 's' },
  'detected_sounds.kind': { meaning: 'train, or kind of call' },
  'detected_sounds.pulse_count': { meaning: 'pulses found', empty: 'a call' },

  event_id: { meaning: 'number of the event' },
  'events.kind': { meaning: 'what was done' },
  undo_of: { meaning: 'event that is taken back, or whose taking back is taken back', empty: 'neither' },
  target_kind: { meaning: 'whether the row is of a sound or of a dance', empty: 'the event wrote no row' },
  target: { meaning: 'id of the row that was written', empty: 'the event wrote no row' },
  before: { meaning: 'the row before, JSON', empty: 'there was none' },
  after: { meaning: 'the row after, JSON', empty: 'there is none' },
};
