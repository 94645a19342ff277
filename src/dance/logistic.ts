/** A logistic model: probability = 1 / (1 + exp(−(intercept + Σ weight · (feature − mean) / deviation))). */
export interface LogisticModel {
  readonly intercept: number;
  readonly weights: readonly number[];
  readonly means: readonly number[];
  readonly deviations: readonly number[];
}

/** The model's probability for one row of features, in the model's order. */
export function logisticProbability(model: LogisticModel, features: readonly number[]): number {
  let sum = model.intercept;
  for (let k = 0; k < model.weights.length; k++) {
    // A feature far outside what the model has seen must not run away with the answer.
    const scaled = (features[k]! - model.means[k]!) / model.deviations[k]!;
    sum += model.weights[k]! * Math.max(-4, Math.min(4, scaled));
  }
  return 1 / (1 + Math.exp(-sum));
}
