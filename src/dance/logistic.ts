/** A fitted logistic model of standardised features, their squares and their products. */
export interface LogisticModel {
  readonly intercept: number;
  /** One for each term of `termsOf`, in its order. */
  readonly weights: readonly number[];
  /** Mean and standard deviation of each feature. */
  readonly means: readonly number[];
  readonly deviations: readonly number[];
}

/** Further out than this, features say no more: what was never seen in fitting must not rule. */
const LARGEST = 4;

/**
 * Terms of the model: each feature standardised and cut off at ± 4, then the product of each with itself and
 * each later one.
 *
 * @param terms where they are put, the first of it; default: a new array
 * @returns n + n (n + 1) / 2 terms of n features
 */
export function termsOf(
  features: readonly number[],
  { means, deviations }: Pick<LogisticModel, 'means' | 'deviations'>,
  terms: number[] = [],
): number[] {
  const count = features.length;
  for (let a = 0; a < count; a++) {
    terms[a] = Math.max(-LARGEST, Math.min(LARGEST, (features[a]! - means[a]!) / deviations[a]!));
  }
  let at = count;
  for (let a = 0; a < count; a++) {
    for (let b = a; b < count; b++) terms[at++] = terms[a]! * terms[b]!;
  }
  return terms;
}

/** This is asked for every tone: the terms stand in one array. */
const kept: number[] = [];

/** Probability, 0 to 1, by the logistic model: 1 / (1 + e^(−intercept − Σ weight · term)). */
export function logisticProbability(model: LogisticModel, features: readonly number[]): number {
  const { intercept, weights } = model;
  const terms = termsOf(features, model, kept);
  let sum = intercept;
  for (let k = 0; k < weights.length; k++) sum += weights[k]! * terms[k]!;
  return 1 / (1 + Math.exp(-sum));
}
