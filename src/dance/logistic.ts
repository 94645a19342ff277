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
 * @returns n + n (n + 1) / 2 terms of n features
 */
export function termsOf(
  features: readonly number[],
  { means, deviations }: Pick<LogisticModel, 'means' | 'deviations'>,
): number[] {
  const terms = features.map((value, k) =>
    Math.max(-LARGEST, Math.min(LARGEST, (value - means[k]!) / deviations[k]!)),
  );
  for (let a = 0; a < features.length; a++) {
    for (let b = a; b < features.length; b++) terms.push(terms[a]! * terms[b]!);
  }
  return terms;
}

/**
 * Probability, 0 to 1, by the logistic model: 1 / (1 + e^(−intercept − Σ weight · term)). The terms are those of
 * `termsOf`, in its order, but never all at hand: this is asked for every tone.
 */
export function logisticProbability(
  { intercept, weights, means, deviations }: LogisticModel,
  features: readonly number[],
): number {
  const count = features.length;
  const standard = new Float64Array(count);
  let sum = intercept;
  for (let a = 0; a < count; a++) {
    standard[a] = Math.max(-LARGEST, Math.min(LARGEST, (features[a]! - means[a]!) / deviations[a]!));
    sum += weights[a]! * standard[a]!;
  }
  let at = count;
  for (let a = 0; a < count; a++) {
    for (let b = a; b < count; b++) sum += weights[at++]! * (standard[a]! * standard[b]!);
  }
  return 1 / (1 + Math.exp(-sum));
}
