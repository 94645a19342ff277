import type { Calibration, CalibrationDance } from './calibrate.ts';
import { curveNamed } from './curves/registry.ts';

/** What a reader should know before trusting a calibration, in sentences. */
export function warningsOf(
  calibration: Omit<Calibration, 'warnings'>,
  dances: readonly CalibrationDance[],
): string[] {
  const { counts, farthestFeederM } = calibration;
  const warnings: string[] = [];
  if (counts.feeders < 4) {
    warnings.push(`Only ${counts.feeders} feeder distances: the form of the curve cannot be checked.`);
  }
  if (farthestFeederM < 20) {
    warnings.push(`The farthest feeder is at ${farthestFeederM} m: are the distances in metres?`);
  }
  warnings.push(...beeWarnings(dances, counts.bees));
  warnings.push(...parameterWarnings(calibration));
  if (calibration.runSdS === null) {
    warnings.push(
      'No dance has two used runs: intervals cannot tell dances of many runs from dances of few.',
    );
  }
  return warnings;
}

function beeWarnings(dances: readonly CalibrationDance[], bees: number): string[] {
  const warnings: string[] = [];
  const unmarked = dances.filter((dance) => dance.beeId === null).length;
  if (unmarked > 0) warnings.push(`${unmarked} of ${dances.length} dances have no bee_id.`);
  const perBee = new Map<string, number>();
  for (const { beeId } of dances) {
    if (beeId !== null) perBee.set(beeId, (perBee.get(beeId) ?? 0) + 1);
  }
  const [bee, most] = [...perBee].reduce((top, entry) => (entry[1] > top[1] ? entry : top), ['', 0]);
  if (bees === 1 && unmarked === 0) {
    warnings.push(`All dances are by one bee (${bee}): intervals say nothing about other bees.`);
  } else if (most > dances.length / 2) {
    warnings.push(`Bee ${bee} danced ${most} of ${dances.length} dances: the curve is mostly hers.`);
  }
  return warnings;
}

function parameterWarnings({ curve, parameters, standardErrors }: Omit<Calibration, 'warnings'>): string[] {
  const named = curveNamed(curve)!.parameters;
  // The first parameter is the time at the hive, which may well be nothing; the others make the curve rise.
  return named
    .map(({ name }, index) => ({ name, uncertain: Math.abs(parameters[index]) < 2 * standardErrors[index] }))
    .slice(1)
    .filter(({ uncertain }) => uncertain)
    .map(({ name }) => `Parameter ${name} is less than two standard errors from zero.`);
}
