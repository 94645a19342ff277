import { createHash } from 'node:crypto';
import { type CalibrationDance, calibrate } from '../calibration/calibrate.ts';
import { type RunChoice, summariseRuns } from '../calibration/runs.ts';
import { circuitTimeS, tempoCurve } from '../calibration/tempo.ts';
import { InputError } from '../input-error.ts';
import { type CalibrationRecord, calibrationFormatVersion, toMeasureRecord } from './calibration-record.ts';
import { formatTable } from './csv.ts';
import { type Observations, type ObservedDance, referenceDances } from './observations.ts';
import { observationSchema } from './tables.ts';
import { combtoneVersion } from './version.ts';

export interface CalibrationSettings {
  /** A curve's name or 'auto'; for run duration only, tempo has one curve. */
  readonly curve: string;
  readonly runs: RunChoice;
  /** Name of the reference treatment; undefined leaves it to the table. */
  readonly reference?: string;
}

/**
 * Calibrates run duration and dance tempo, whichever the table has, on the dances of the reference treatment.
 * Where both are there, a tempo that cannot be calibrated is left out with a warning.
 *
 * @throws InputError when the dances cannot be calibrated on
 */
export function calibrateObservations(
  observations: Observations,
  settings: CalibrationSettings,
): CalibrationRecord {
  const { file, rows } = observations;
  const reference = referenceDances(observations, settings.reference);
  const durations = summarise(reference.dances, settings.runs, (dance) => dance.durationsS);
  const tempos = summarise(reference.dances, settings.runs, (dance) =>
    dance.circuitsPer15s.map((circuits) => (circuits === null ? null : circuitTimeS(circuits))),
  );
  const treatment = reference.name === null ? '' : ` of treatment ${reference.name}`;
  const wrong = (found: string, wanted: string) =>
    new InputError({ file, found: `${found}${treatment}`, wanted });
  if (durations.length === 0 && tempos.length === 0) {
    throw wrong('no timed runs', 'duration_s or circuits_per_15s in the runs used');
  }

  const duration = durations.length === 0 ? undefined : calibrate(durations, settings.curve);
  if (duration?.ok === false) throw wrong(duration.found, duration.wanted);
  const tempo = tempos.length === 0 ? undefined : calibrate(tempos, tempoCurve);
  if (tempo?.ok === false && duration === undefined) throw wrong(tempo.found, tempo.wanted);
  return {
    format: 'combtone calibration',
    formatVersion: calibrationFormatVersion,
    combtoneVersion,
    dataSha256: createHash('sha256').update(formatTable(observationSchema, rows)).digest('hex'),
    settings: { curve: settings.curve, runs: settings.runs, reference: reference.name },
    duration: duration === undefined ? null : toMeasureRecord(duration.calibration),
    tempo: tempo?.ok ? toMeasureRecord(tempo.calibration) : null,
    warnings: [
      ...leftOut(observations, reference.dances),
      ...(tempo?.ok === false
        ? [`Tempo is not calibrated: found ${tempo.found}; wanted ${tempo.wanted}.`]
        : []),
    ],
  };
}

function summarise(
  dances: readonly ObservedDance[],
  runs: RunChoice,
  timesS: (dance: ObservedDance) => readonly (number | null)[],
): CalibrationDance[] {
  return dances.flatMap((dance) => {
    const summary = summariseRuns(timesS(dance), runs);
    const { danceId, beeId, distanceM } = dance;
    return summary === undefined || distanceM === null ? [] : [{ danceId, beeId, distanceM, ...summary }];
  });
}

function leftOut(observations: Observations, used: readonly ObservedDance[]): string[] {
  const others = observations.dances.length - used.length;
  return others === 0 ? [] : [`${others} of ${observations.dances.length} dances are of other treatments.`];
}
