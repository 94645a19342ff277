/** Intercept, slope and residual sum of squares of the least-squares straight line of y on x. */
export function straightLine(
  x: readonly number[],
  y: readonly number[],
): { intercept: number; slope: number; residualSum: number } {
  const count = x.length;
  const meanX = x.reduce((sum, value) => sum + value, 0) / count;
  const meanY = y.reduce((sum, value) => sum + value, 0) / count;
  let squares = 0;
  let products = 0;
  for (let i = 0; i < count; i++) {
    squares += (x[i] - meanX) ** 2;
    products += (x[i] - meanX) * (y[i] - meanY);
  }
  const slope = squares > 0 ? products / squares : 0;
  const intercept = meanY - slope * meanX;
  const residualSum = y.reduce((sum, value, i) => sum + (value - intercept - slope * x[i]) ** 2, 0);
  return { intercept, slope, residualSum };
}
