import type { DistancePrior } from './distance-posterior.ts';

/** Seed of the draws, unless another is asked for. */
export const defaultSeed = 1;
/** Draws from the posterior of a curve, unless another number is asked for. */
export const defaultDraws = 300;
/**
 * Distances that are thought of, all as likely before the dance is read. Common practice, no source: dances
 * fade out near 10 km, and the limit of foraging is near 12 km.
 */
export const defaultPrior: DistancePrior = { nearestM: 0, farthestM: 12_000 };
