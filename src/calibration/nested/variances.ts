import type { Components } from './data.ts';

/** Variance components of the model, in the responses' unit. */
export interface Variances {
  /** Variance between bees. */
  readonly bee: number;
  /** Variance between dances of a bee. */
  readonly dance: number;
  /** SD of runs within a dance at the nearest feeder. */
  readonly nearRunSd: number;
  /** SD of runs within a dance at the farthest feeder. */
  readonly farRunSd: number;
}

/** Names of the logarithms that are searched, in their order, for the components that the data can tell. */
export function logNames(components: Components): ('bee' | 'dance' | 'near' | 'far')[] {
  return [
    ...(components.bee ? (['bee'] as const) : []),
    ...(components.dance ? (['dance'] as const) : []),
    'near',
    ...(components.growth ? (['far'] as const) : []),
  ];
}

/** Variances from the logarithms of: bee variance, dance variance, run SD near, run SD far (those that there are). */
export function variancesOf(logs: ArrayLike<number>, components: Components): Variances {
  let next = 0;
  const bee = components.bee ? Math.exp(logs[next++]) : 0;
  const dance = components.dance ? Math.exp(logs[next++]) : 0;
  const nearRunSd = Math.exp(logs[next++]);
  const farRunSd = components.growth ? Math.exp(logs[next]) : nearRunSd;
  return { bee, dance, nearRunSd, farRunSd };
}

// Beyond the feeders a falling spread is not carried on to nothing.
const leastShare = 0.25;

/**
 * SD of single runs at a reach: straight between the nearest and the farthest feeder and beyond (values for one
 * species: 0.14 s growing by 0.025 s per 100 m, CAB abstract 19790209325), never under a quarter of the lesser.
 */
export function runSdAt(reach: number, nearReach: number, { nearRunSd, farRunSd }: Variances): number {
  if (nearReach >= 1) return nearRunSd;
  const sd = nearRunSd + ((farRunSd - nearRunSd) * (reach - nearReach)) / (1 - nearReach);
  return Math.max(sd, leastShare * Math.min(nearRunSd, farRunSd));
}

/** Share of the far SD in the SD at each reach, 0 at the nearest feeder to 1 at the farthest. */
export function farShares(reaches: readonly number[]): Float64Array {
  const near = reaches[0];
  return Float64Array.from(reaches, (reach) => (near < 1 ? (reach - near) / (1 - near) : 0));
}
