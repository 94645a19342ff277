import { type Random, seededRandom } from '../random.ts';

/** A random source of its own, so that what is drawn for one purpose does not shift what is drawn for another. */
export function branch(random: Random): Random {
  return seededRandom(drawSeed(random));
}

/** A fresh 32-bit seed. */
export function drawSeed(random: Random): number {
  return random.below(2 ** 32);
}

/** Normal with given mean and SD, drawn again until it lies within [low, high]. */
export function normalWithin(random: Random, mean: number, sd: number, low: number, high: number): number {
  for (let trial = 0; trial < 1000; trial++) {
    const value = mean + sd * random.normal();
    if (value >= low && value <= high) return value;
  }
  return Math.min(high, Math.max(low, mean));
}

/** Lognormal with given median and SD of the logarithm, held within [low, high]. */
export function lognormalWithin(
  random: Random,
  median: number,
  sdLog: number,
  low: number,
  high: number,
): number {
  return Math.min(high, Math.max(low, median * Math.exp(sdLog * random.normal())));
}

/** Right-skewed scatter with mean 0: a gamma of the given shape, shifted and scaled; its skewness is 2/√shape. */
export function skewedScatter(random: Random, sd: number, shape: number): number {
  return (sd * (random.gamma(shape) - shape)) / Math.sqrt(shape);
}

/** Times of a Poisson process on [0, lengthS), in order. */
export function poissonTimes(random: Random, perHour: number, lengthS: number): number[] {
  const times: number[] = [];
  if (perHour <= 0) return times;
  let timeS = 0;
  for (;;) {
    timeS += (-Math.log(1 - random.uniform()) * 3600) / perHour;
    if (timeS >= lengthS) return times;
    times.push(timeS);
  }
}

/** A random order of the items (Fisher & Yates). */
export function shuffled<T>(random: Random, items: readonly T[]): T[] {
  const result = [...items];
  for (let index = result.length - 1; index > 0; index--) {
    const other = random.below(index + 1);
    [result[index], result[other]] = [result[other]!, result[index]!];
  }
  return result;
}

/** One of the items. */
export function oneOf<T>(random: Random, items: readonly T[]): T {
  return items[random.below(items.length)]!;
}
