import type { Calibration, CalibrationDance } from './calibration.ts';
import { curveNamed } from './curves/registry.ts';

/** What a reader should know before trusting a calibration, in sentences. */
export function warningsOf(
  calibration: Omit<Calibration, 'warnings'>,
  dances: readonly CalibrationDance[],
): string[] {
  return [
    ...feederWarnings(calibration, dances),
    ...beeWarnings(dances, calibration),
    ...parameterWarnings(calibration),
    ...componentWarnings(calibration),
  ];
}

function feederWarnings(
  { counts, nearestFeederM, farthestFeederM }: Omit<Calibration, 'warnings'>,
  dances: readonly CalibrationDance[],
) {
  const warnings: string[] = [];
  if (counts.feeders < 4) {
    warnings.push(`Only ${counts.feeders} feeder distances: the form of the curve cannot be checked.`);
  }
  if (farthestFeederM < 20) {
    warnings.push(`The farthest feeder is at ${farthestFeederM} m: are the distances in metres?`);
  } else if (farthestFeederM < 2 * nearestFeederM || farthestFeederM - nearestFeederM < 200) {
    warnings.push(
      `The feeders are close together (${nearestFeederM} to ${farthestFeederM} m): the slope is poorly known.`,
    );
  }
  const perFeeder = new Map<number, number>();
  for (const { distanceM } of dances) perFeeder.set(distanceM, (perFeeder.get(distanceM) ?? 0) + 1);
  const sorted = [...perFeeder].sort((left, right) => left[1] - right[1]);
  const [fewest, most] = [sorted[0], sorted[sorted.length - 1]];
  if (most[1] >= 4 * fewest[1] && most[1] >= 8) {
    warnings.push(
      `Feeders are sampled unevenly: ${fewest[1]} ${fewest[1] === 1 ? 'dance' : 'dances'} at ${fewest[0]} m, ` +
        `${most[1]} at ${most[0]} m.`,
    );
  }
  return warnings;
}

function beeWarnings(
  dances: readonly CalibrationDance[],
  { counts }: Omit<Calibration, 'warnings'>,
): string[] {
  const warnings: string[] = [];
  const unmarked = dances.filter((dance) => dance.beeId === null).length;
  if (unmarked > 0) {
    warnings.push(
      `${unmarked} of ${dances.length} dances have no bee_id: each is taken as a bee of its own, and ` +
        'intervals are too narrow if a few bees danced them all.',
    );
  }
  const perBee = new Map<string, number>();
  for (const { beeId } of dances) {
    if (beeId !== null) perBee.set(beeId, (perBee.get(beeId) ?? 0) + 1);
  }
  const [bee, most] = [...perBee].reduce((top, entry) => (entry[1] > top[1] ? entry : top), ['', 0]);
  if (counts.bees === 1 && unmarked === 0) {
    warnings.push(`All dances are by one bee (${bee}): intervals say nothing about other bees.`);
  } else if (most > dances.length / 2) {
    warnings.push(`Bee ${bee} danced ${most} of ${dances.length} dances: the curve is mostly hers.`);
  }
  if (unmarked === 0 && counts.bees > 1 && counts.bees < 5) {
    warnings.push(`Only ${counts.bees} bees: how much bees differ is hardly known, and intervals are wide.`);
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

function componentWarnings({ components, counts }: Omit<Calibration, 'warnings'>): string[] {
  const warnings: string[] = [];
  if (!components.bee && counts.bees > 1) {
    warnings.push(
      'No bee has two dances: differences between bees cannot be told from those between dances.',
    );
  }
  if (!components.dance) {
    warnings.push(
      'No dance has two used runs: intervals cannot tell dances of many runs from dances of few.',
    );
  }
  return warnings;
}
