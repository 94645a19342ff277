import { quantile } from 'd3-array';
import type { Random } from '../random.ts';
import { timeBeyond } from './beyond.ts';
import { calibrate } from './calibrate.ts';
import type { Calibration, CalibrationDance } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';
import { defaultPrior } from './defaults.ts';
import { distancePosterior, posteriorQuantile } from './distance-posterior.ts';
import { estimatorOf } from './estimate.ts';
import { runSdAt, type Variances } from './nested/variances.ts';

/** A calibration study that might be made. */
export interface StudyDesign {
  /** Feeders, spread evenly over the pilot's range. */
  readonly feeders: number;
  readonly bees: number;
  /** Of each bee at each feeder. */
  readonly dances: number;
}

/** What a study is to tell, and how it is simulated. */
export interface PlanOptions {
  /** Distance of the dance to be told (m). */
  readonly distanceM: number;
  /** Half-width that is wanted (m). */
  readonly halfWidthM: number;
  readonly level: number;
  /** Used runs of each dance of the calibration study. */
  readonly runs: number;
  /** Used runs of the dance to be told. */
  readonly newRuns: number;
  /** Simulated studies of each design. */
  readonly studies: number;
}

/** What a design would give. */
export interface PlannedDesign extends StudyDesign {
  readonly allDances: number;
  /** Median half-width of the interval (m). */
  readonly halfWidthM: number;
  /** Half-width that nine studies in ten keep under (m). */
  readonly mostlyUnderM: number;
  /** Share of the studies whose half-width is at most the one wanted. */
  readonly reached: number;
  /** Studies that could not be fitted. */
  readonly failed: number;
}

const draws = 60;

/**
 * Simulates studies of a design from a pilot calibration, calibrates each, and reads a typical dance at the
 * distance asked about. Each simulated study has a colony of its own, a draw of the pilot's: what the pilot leaves
 * unknown of curve and scatter is in the spread of the answers. Runs are simulated as normal.
 */
export function planDesign(
  pilot: Calibration,
  design: StudyDesign,
  options: PlanOptions,
  random: Random,
): PlannedDesign {
  const widths: number[] = [];
  let failed = 0;
  for (let study = 0; study < options.studies; study++) {
    const width = simulatedHalfWidth(pilot, design, options, random);
    if (width === undefined) failed++;
    else widths.push(width);
  }
  return {
    ...design,
    allDances: design.feeders * design.bees * design.dances,
    halfWidthM: quantile(widths, 0.5) ?? Number.NaN,
    mostlyUnderM: quantile(widths, 0.9) ?? Number.NaN,
    reached: widths.filter((width) => width <= options.halfWidthM).length / options.studies,
    failed,
  };
}

/**
 * Half-width (m) of the interval if curve and scatter were known for certain: no calibration study, however large,
 * can tell one dance of a bee not met before more narrowly.
 */
export function leastHalfWidth(
  pilot: Calibration,
  { distanceM, newRuns, level }: Pick<PlanOptions, 'distanceM' | 'newRuns' | 'level'>,
): number {
  const curve = curveNamed(pilot.curve)!;
  const { scatter, parameters, nearestFeederM, farthestFeederM } = pilot;
  const variances = {
    bee: (scatter.betweenBeesS?.value ?? 0) ** 2,
    dance: (scatter.betweenDancesS?.value ?? 0) ** 2,
    nearRunSd: scatter.runsNearS.value,
    farRunSd: scatter.runsFarS.value,
  };
  const timeS = (atM: number) => timeBeyond(curve, parameters, atM, farthestFeederM);
  const meanS = timeS(distanceM);
  const posterior = distancePosterior((atM) => {
    const runSd = runSdAt(atM / farthestFeederM, nearestFeederM / farthestFeederM, variances);
    const variance = variances.bee + variances.dance + runSd ** 2 / newRuns;
    return -0.5 * (Math.log(variance) + (meanS - timeS(atM)) ** 2 / variance);
  }, defaultPrior);
  if (posterior === undefined) return Number.NaN;
  return (posteriorQuantile(posterior, (1 + level) / 2) - posteriorQuantile(posterior, (1 - level) / 2)) / 2;
}

function simulatedHalfWidth(
  pilot: Calibration,
  design: StudyDesign,
  { distanceM, level, runs, newRuns }: PlanOptions,
  random: Random,
): number | undefined {
  const curve = curveNamed(pilot.curve)!;
  const { parameters, variances } = pilot.draws[random.below(pilot.draws.length)];
  const timeS = (atM: number) => timeBeyond(curve, parameters, atM, pilot.farthestFeederM);
  const dances = simulatedStudy(pilot, design, runs, timeS, variances, random);
  const outcome = calibrate(dances, pilot.curve, { seed: random.below(2 ** 31), draws, leaveOut: false });
  if (!outcome.ok) return undefined;
  const posterior = estimatorOf(outcome.calibration).posterior({
    beeId: null,
    meanS: timeS(distanceM),
    usedRuns: newRuns,
  });
  if (posterior === undefined) return undefined;
  return (posteriorQuantile(posterior, (1 + level) / 2) - posteriorQuantile(posterior, (1 - level) / 2)) / 2;
}

/** Feeder distances spread evenly from a pilot's nearest to its farthest. */
function plannedFeeders({ nearestFeederM, farthestFeederM }: Calibration, count: number): number[] {
  return Array.from(
    { length: count },
    (_, k) => nearestFeederM + ((farthestFeederM - nearestFeederM) * k) / (count - 1),
  );
}

/** One study of a design: bees, dances and runs drawn as normal about the times of the distances. */
export function simulatedStudy(
  pilot: Calibration,
  design: StudyDesign,
  runs: number,
  timeS: (distanceM: number) => number,
  variances: Variances,
  random: Random,
): CalibrationDance[] {
  const { nearestFeederM, farthestFeederM } = pilot;
  const feedersM = plannedFeeders(pilot, design.feeders);
  const dances: CalibrationDance[] = [];
  for (let bee = 0; bee < design.bees; bee++) {
    const beeS = Math.sqrt(variances.bee) * random.normal();
    for (const distanceM of feedersM) {
      const runSd = runSdAt(distanceM / farthestFeederM, nearestFeederM / farthestFeederM, variances);
      for (let dance = 0; dance < design.dances; dance++) {
        const danceS = timeS(distanceM) + beeS + Math.sqrt(variances.dance) * random.normal();
        dances.push({
          danceId: `${bee}-${distanceM}-${dance}`,
          beeId: `bee-${bee}`,
          distanceM,
          meanS: danceS + (runSd * random.normal()) / Math.sqrt(runs),
          usedRuns: runs,
          // Squared deviations of n normal runs: a chi-square of n − 1 degrees of freedom, twice a gamma.
          squaredDeviations: runs > 1 ? runSd ** 2 * 2 * random.gamma((runs - 1) / 2) : 0,
        });
      }
    }
  }
  return dances;
}
