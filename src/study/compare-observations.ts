import { calibrate } from '../calibration/calibrate.ts';
import type { Calibration, CalibrationDance, Ranged } from '../calibration/calibration.ts';
import { type Comparison, compareTreatment, type TreatedDance } from '../calibration/compare.ts';
import { shiftInMetres } from '../calibration/metres.ts';
import { rangedOf } from '../calibration/ranged.ts';
import { type RunChoice, summariseRuns } from '../calibration/runs.ts';
import type { ChangeWithDistance, FeederShift } from '../calibration/shift-by-feeder.ts';
import { circuitsPer15s } from '../calibration/tempo.ts';
import { InputError } from '../input-error.ts';
import { seededRandom } from '../random.ts';
import { type CalibrationRecord, fromMeasureRecord } from './calibration-record.ts';
import { circuitTimesS } from './dance-times.ts';
import { type Observations, type ObservedDance, referenceDances } from './observations.ts';

export interface CompareSettings {
  readonly runs: RunChoice;
  readonly reference?: string;
  /** A calibration to turn seconds into metres; without one the reference dances' own curve serves. */
  readonly calibration?: CalibrationRecord;
  readonly level: number;
  readonly seed: number;
  readonly draws: number;
  readonly permutations: number;
}

/** What the treatment did at one feeder, by the dances to it. */
export interface ShiftAtFeeder extends Omit<FeederShift, 'draws'> {
  /** Shift of the distance that they indicate; null where no curve is to be had. */
  readonly shiftM: Ranged | null;
}

/** One treatment against the reference in one measure. */
export interface MeasureComparison extends Omit<Comparison, 'draws' | 'byFeeder'> {
  /** Of tempo: the shift in circuits per 15 s, at the reference's mean. */
  readonly shiftPer15s: Ranged | null;
  /** Feeder by feeder; empty where that cannot be told. */
  readonly byFeeder: readonly ShiftAtFeeder[];
  /** Whether the shift changes with distance; null where that cannot be told. */
  readonly change: ChangeWithDistance | null;
  /** Of the one shift, as mean over the feeders; null where no curve is to be had. */
  readonly meanShiftM: Ranged | null;
}

export interface TreatmentComparison {
  readonly treatment: string;
  readonly duration: MeasureComparison | null;
  readonly tempo: MeasureComparison | null;
  readonly notes: readonly string[];
}

export interface ComparisonReport {
  readonly reference: string | null;
  readonly level: number;
  readonly treatments: readonly TreatmentComparison[];
}

const measures = {
  duration: (dance: ObservedDance) => dance.durationsS,
  tempo: circuitTimesS,
} as const;

/**
 * Compares every other treatment of a table with the reference.
 *
 * @throws InputError when there is no other treatment or no measure can be compared
 */
export function compareObservations(observations: Observations, settings: CompareSettings): ComparisonReport {
  const reference = referenceDances(observations, settings.reference);
  const isReference = new Set(reference.dances);
  const others = observations.dances.filter((dance) => !isReference.has(dance));
  const treatments = [...new Set(others.map(({ treatment }) => treatment ?? '(empty)'))].sort();
  if (treatments.length === 0) {
    throw new InputError({
      file: observations.file,
      place: 'column treatment',
      found: `no treatment beside the reference (${reference.name ?? 'empty'})`,
      wanted: 'dances under at least one other treatment',
    });
  }
  const curves = {
    duration: curveOf('duration', reference.dances, settings),
    tempo: curveOf('tempo', reference.dances, settings),
  };
  return {
    reference: reference.name,
    level: settings.level,
    treatments: treatments.map((treatment) => {
      const treated = others.filter((dance) => (dance.treatment ?? '(empty)') === treatment);
      return compareOne(observations.file, treatment, treated, reference.dances, curves, settings);
    }),
  };
}

type Curves = Readonly<Record<keyof typeof measures, Calibration | undefined>>;

function compareOne(
  file: string,
  treatment: string,
  treated: readonly ObservedDance[],
  reference: readonly ObservedDance[],
  curves: Curves,
  settings: CompareSettings,
): TreatmentComparison {
  const notes: string[] = [];
  const of = (measure: keyof typeof measures): MeasureComparison | null => {
    const dances: TreatedDance[] = [
      ...summaries(reference, measure, settings.runs).map((dance) => ({ ...dance, treated: false })),
      ...summaries(treated, measure, settings.runs).map((dance) => ({ ...dance, treated: true })),
    ];
    if (!dances.some((dance) => dance.treated)) return null;
    const outcome = compareTreatment(dances, settings, seededRandom(settings.seed));
    if (outcome.ok) return withMetres(outcome.comparison, measure, curves[measure], settings);
    notes.push(`${measure} not compared: found ${outcome.found}; wanted ${outcome.wanted}.`);
    return null;
  };
  const duration = of('duration');
  const tempo = of('tempo');
  if (duration === null && tempo === null) {
    throw new InputError({
      file,
      found: `treatment ${treatment} that cannot be compared${notes.length > 0 ? ` (${notes.join(' ')})` : ''}`,
      wanted: 'timed dances under it and the reference to one feeder or more',
    });
  }
  return { treatment, duration, tempo, notes };
}

function summaries(
  dances: readonly ObservedDance[],
  measure: keyof typeof measures,
  runs: RunChoice,
): CalibrationDance[] {
  return dances.flatMap((dance) => {
    const summary = summariseRuns(measures[measure](dance), runs);
    const { danceId, beeId, distanceM } = dance;
    return summary === undefined || distanceM === null ? [] : [{ danceId, beeId, distanceM, ...summary }];
  });
}

/** The calibration given, or one of the reference dances where their feeders are enough for it. */
function curveOf(
  measure: keyof typeof measures,
  reference: readonly ObservedDance[],
  { calibration, runs, seed, draws }: CompareSettings,
): Calibration | undefined {
  if (calibration !== undefined) {
    const record = calibration[measure];
    return record === null ? undefined : fromMeasureRecord(record);
  }
  const dances = summaries(reference, measure, runs);
  if (dances.length === 0) return undefined;
  const outcome = calibrate(dances, 'auto', { seed, draws, leaveOut: false });
  return outcome.ok ? outcome.calibration : undefined;
}

function withMetres(
  { draws, byFeeder, ...comparison }: Comparison,
  measure: keyof typeof measures,
  curve: Calibration | undefined,
  { level }: CompareSettings,
): MeasureComparison {
  const { referenceMeanS, feedersM, shiftS } = comparison;
  const per15s = (shift: number) => circuitsPer15s(referenceMeanS + shift) - circuitsPer15s(referenceMeanS);
  const shifts = curve === undefined ? [] : feedersM.map((feederM) => shiftInMetres(curve, feederM, draws));
  const points =
    curve === undefined
      ? []
      : feedersM.map((feederM) => shiftInMetres(curve, feederM, [shiftS.value], true)[0]);
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  return {
    ...comparison,
    shiftPer15s: measure === 'tempo' ? rangedOf(per15s(shiftS.value), draws.map(per15s), level) : null,
    byFeeder: (byFeeder?.feeders ?? []).map((own) => atFeeder(own, curve, level)),
    change: byFeeder?.change ?? null,
    meanShiftM:
      shifts.length === 0
        ? null
        : rangedOf(
            mean(points),
            draws.map((_, s) => mean(shifts.map((own) => own[s]))),
            level,
          ),
  };
}

function atFeeder(
  { draws, ...own }: FeederShift,
  curve: Calibration | undefined,
  level: number,
): ShiftAtFeeder {
  if (curve === undefined) return { ...own, shiftM: null };
  const { feederM, shiftS } = own;
  const [best] = shiftInMetres(curve, feederM, [shiftS.value], true);
  return { ...own, shiftM: rangedOf(best, shiftInMetres(curve, feederM, draws), level) };
}
