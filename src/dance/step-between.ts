import type { RefinedTrain } from './train-refinement.ts';

type PulseTimes = Pick<RefinedTrain, 'pulseTimesS'>;

/** How a train's pulses stand between another's. */
export interface Step {
  /** Length of the mean vector of their phases, 0 to 1. */
  readonly kept: number;
  /** Its direction: how far after another's pulse, as a share of the time to the next, −0.5 to 0.5. */
  readonly turn: number;
}

/** How a train's pulses stand between another's; step is not kept where fewer than three do. */
export function stepBetween(train: PulseTimes, other: PulseTimes): Step {
  let re = 0;
  let im = 0;
  let count = 0;
  const times = other.pulseTimesS;
  let next = 0;
  for (const timeS of train.pulseTimesS) {
    while (next < times.length && times[next]! <= timeS) next++;
    if (next === 0 || next === times.length) continue;
    const turn = (2 * Math.PI * (timeS - times[next - 1]!)) / (times[next]! - times[next - 1]!);
    re += Math.cos(turn);
    im += Math.sin(turn);
    count++;
  }
  return { kept: count < 3 ? 0 : Math.hypot(re, im) / count, turn: Math.atan2(im, re) / (2 * Math.PI) };
}
