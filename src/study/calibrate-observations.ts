import { createHash } from 'node:crypto';
import { calibrate } from '../calibration/calibrate.ts';
import type { CalibrationDance, CalibrationOutcome } from '../calibration/calibration.ts';
import { defaultDraws, defaultSeed } from '../calibration/defaults.ts';
import { correlate } from '../calibration/joint.ts';
import { type RunChoice, summariseRuns } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { seededRandom } from '../random.ts';
import {
  type CalibrationRecord,
  calibrationFormatVersion,
  toCorrelationRecord,
  toMeasureRecord,
} from './calibration-record.ts';
import { formatTable } from './csv.ts';
import { circuitTimesS, pairedRuns } from './dance-times.ts';
import { type Observations, type ObservedDance, referenceDances } from './observations.ts';
import { observationSchema } from './tables.ts';
import { combtoneVersion } from './version.ts';

/** How a calibration is made; written into it. */
export interface CalibrationSettings {
  /** Curve of run duration: its name or 'auto'. */
  readonly curve: string;
  /** Curve of circuit time; 'auto' unless given. */
  readonly tempoCurve?: string;
  readonly runs: RunChoice;
  /** Name of the reference treatment; undefined leaves it to the table. */
  readonly reference?: string;
  /** Seed of the draws. */
  readonly seed?: number;
  /** Number of draws. */
  readonly draws?: number;
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
  const { curve, tempoCurve = 'auto', runs, seed = defaultSeed, draws = defaultDraws } = settings;
  const reference = referenceDances(observations, settings.reference);
  const durations = summarise(reference.dances, runs, (dance) => dance.durationsS);
  const tempos = summarise(reference.dances, runs, circuitTimesS);
  const treatment = reference.name === null ? '' : ` of treatment ${reference.name}`;
  const wrong = (found: string, wanted: string) =>
    new InputError({ file, found: `${found}${treatment}`, wanted });
  if (durations.length === 0 && tempos.length === 0) {
    throw wrong('no timed runs', 'duration_s or circuits_per_15s in the runs used');
  }
  const options = { seed, draws };
  const duration = durations.length === 0 ? undefined : calibrate(durations, curve, options);
  if (duration?.ok === false) throw wrong(duration.found, duration.wanted);
  const tempo = tempos.length === 0 ? undefined : calibrate(tempos, tempoCurve, options);
  if (tempo?.ok === false && duration === undefined) throw wrong(tempo.found, tempo.wanted);
  const both =
    duration?.ok && tempo?.ok
      ? correlate(
          duration.calibration,
          tempo.calibration,
          reference.dances.map((dance) => pairedRuns(dance, runs)),
          seededRandom(seed),
        )
      : null;
  return {
    format: 'combtone calibration',
    formatVersion: calibrationFormatVersion,
    combtoneVersion,
    dataSha256: createHash('sha256').update(formatTable(observationSchema, rows)).digest('hex'),
    settings: { curve, tempoCurve, runs, reference: reference.name, seed, draws },
    duration: duration === undefined ? null : toMeasureRecord(duration.calibration),
    tempo: tempo?.ok ? toMeasureRecord(tempo.calibration) : null,
    correlation: both && toCorrelationRecord(both),
    warnings: [...leftOut(observations, reference.dances), ...withoutTempo(tempo)],
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

function withoutTempo(tempo: CalibrationOutcome | undefined): string[] {
  return tempo === undefined || tempo.ok
    ? []
    : [`Tempo is not calibrated: found ${tempo.found}; wanted ${tempo.wanted}.`];
}

function leftOut(observations: Observations, used: readonly ObservedDance[]): string[] {
  const others = observations.dances.length - used.length;
  if (others === 0) return [];
  const isUsed = new Set(used);
  const names = observations.dances.flatMap((dance) =>
    isUsed.has(dance) ? [] : (dance.treatment ?? '(empty)'),
  );
  const listed = [...new Set(names)].sort().join(', ');
  return [
    `${others} of ${observations.dances.length} dances are of other treatments (${listed}) and did not serve for the curve.`,
  ];
}
