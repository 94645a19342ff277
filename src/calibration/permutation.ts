import type { Random } from '../random.ts';
import { fitVariances } from './nested/fit-variances.ts';
import type { NestedModel } from './nested/likelihood.ts';

/** A test by shuffling the treatment. */
export interface PermutationTest {
  /** Two-sided: the share of shuffled studies whose shift is at least as large, the real one counted in; null where
   * bees and feeders leave nothing to shuffle. */
  readonly pValue: number | null;
  readonly shuffled: 'dances within bees' | 'bees' | 'dances within bees, and bees';
}

/**
 * Permutation test of a treatment. Dances of one bee to one feeder change treatments among themselves; bees that
 * danced under one treatment alone change it as wholes. The shift of each shuffled study is that of generalised
 * least squares at the variances of the model without treatment, which are the same for all of them.
 * (Phipson & Smyth 2010, Stat Appl Genet Mol Biol 9:39, for counting the real study in; from memory.)
 *
 * @param treated 1 or 0 for each dance in the data's order
 */
export function permutationTest(
  model: NestedModel,
  treated: Float64Array,
  permutations: number,
  random: Random,
): PermutationTest {
  const { data } = model;
  const feeders = data.reaches.map((_, place) =>
    Float64Array.from(data.feeder, (feeder) => (feeder === place ? 1 : 0)),
  );
  const blocks = exchangeable(model, treated);
  const shuffled =
    blocks.within.length === 0
      ? 'bees'
      : blocks.whole.length === 0
        ? 'dances within bees'
        : 'dances within bees, and bees';
  const plain = fitVariances(model, feeders, 'reml');
  if (plain === undefined || blocks.within.length + blocks.whole.length === 0)
    return { pValue: null, shuffled };
  const shiftOf = (labels: Float64Array) => {
    const found = model.evaluate([...feeders, labels], plain.logs, 'ml', false);
    return found === undefined ? undefined : Math.abs(found.coefficients[feeders.length]);
  };
  const real = shiftOf(treated) ?? 0;
  let atLeast = 1;
  let made = 1;
  const labels = Float64Array.from(treated);
  for (let k = 0; k < permutations; k++) {
    for (const block of blocks.within)
      shuffleLabels(
        labels,
        block.map((j) => [j]),
        random,
      );
    shuffleLabels(labels, blocks.whole, random);
    const shift = shiftOf(labels);
    // A shuffle that leaves a feeder's effect and the treatment's the same thing tells nothing.
    if (shift === undefined) continue;
    made++;
    if (shift >= real * (1 - 1e-9)) atLeast++;
  }
  return { pValue: atLeast / made, shuffled };
}

/** Dances that change treatments among themselves, and bees (as lists of dances) that do so as wholes. */
function exchangeable({ data }: NestedModel, treated: Float64Array) {
  const within: number[][] = [];
  const whole: number[][] = [];
  for (let bee = 0; bee + 1 < data.beeStart.length; bee++) {
    const own = Array.from(
      { length: data.beeStart[bee + 1] - data.beeStart[bee] },
      (_, k) => data.beeStart[bee] + k,
    );
    const isBoth = own.some((j) => treated[j] === 1) && own.some((j) => treated[j] === 0);
    if (!isBoth) {
      whole.push(own);
      continue;
    }
    for (const feeder of new Set(own.map((j) => data.feeder[j]))) {
      const there = own.filter((j) => data.feeder[j] === feeder);
      if (new Set(there.map((j) => treated[j])).size > 1) within.push(there);
    }
  }
  const mixed = whole.some(([j]) => treated[j] === 1) && whole.some(([j]) => treated[j] === 0);
  return { within, whole: mixed ? whole : [] };
}

/** Gives the labels of groups of dances, one label each, to one another at random. */
function shuffleLabels(labels: Float64Array, groups: readonly (readonly number[])[], random: Random): void {
  const values = groups.map(([first]) => labels[first]);
  for (let last = values.length - 1; last > 0; last--) {
    const other = random.below(last + 1);
    [values[last], values[other]] = [values[other], values[last]];
  }
  groups.forEach((group, i) => {
    for (const j of group) labels[j] = values[i];
  });
}
