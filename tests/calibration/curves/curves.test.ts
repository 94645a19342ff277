import { describe, expect, test } from 'vitest';
import { curveNamed, curves } from '../../../src/calibration/curves/registry.ts';
import { gradientAt } from '../../../src/calibration/linearisation.ts';

const examples: Record<string, number[]> = {
  line: [0.2, 0.0012],
  saturating: [0.15, 2.4, 1500],
  power: [0.1, 1.2, 0.8],
  'broken-line': [0.2, 0.0015, 0.0008, 900],
};

describe.each(curves)('curve $name', (curve) => {
  const parameters = examples[curve.name];

  test('its gradient is that of its values', () => {
    for (const distanceM of [0, 60, 400, 3000]) {
      const numeric = gradientAt({ value: curve.value }, distanceM, parameters);
      curve.gradient(distanceM, parameters).forEach((slope, index) => {
        expect(Math.abs(slope - numeric[index])).toBeLessThan(1e-6 * (1 + Math.abs(slope)));
      });
    }
  });

  test('its slope is that of its values', () => {
    for (const distanceM of [60, 400, 3000]) {
      const rise = curve.value(distanceM + 0.01, parameters) - curve.value(distanceM - 0.01, parameters);
      expect(curve.slope(distanceM, parameters)).toBeCloseTo(rise / 0.02, 9);
    }
  });

  test('rises, and is at fault when it does not', () => {
    expect(curve.value(500, parameters)).toBeGreaterThan(curve.value(100, parameters));
    expect(curve.fault(parameters)).toBeUndefined();
    expect(curve.fault(parameters.with(1, -parameters[1]))).toMatch(/rise/);
  });

  test('columns of the reach, turned into parameters, say the same as the curve itself', () => {
    const farthestM = 2200;
    const reaches = [150, 400, 800, 1400, 2200].map((distanceM) => distanceM / farthestM);
    const bounds = curve.shapeBounds(reaches);
    for (const share of [0.1, 0.6]) {
      const shape = bounds === null ? 0 : bounds[0] + share * (bounds[1] - bounds[0]);
      const coefficients = [0.3, 2.1, 0.9].slice(0, 1 + curve.columns);
      const natural = curve.toParameters(coefficients, shape, farthestM);
      for (const reach of [0, 0.05, ...reaches, 1.7]) {
        const byColumns = coefficients
          .slice(1)
          .reduce((sum, value, k) => sum + value * curve.column(k, reach, shape), coefficients[0]);
        expect(curve.value(reach * farthestM, natural)).toBeCloseTo(byColumns, 10);
      }
    }
  });
});

test('curves are found by name', () => {
  expect(curveNamed('saturating')?.formula).toBe('a + c·(1 − exp(−d/L))');
  expect(curveNamed('spiral')).toBeUndefined();
});

test('the saturating curve’s prior is flat in exp(−shape), the slope at the farthest feeder over that at the hive', () => {
  const { logShapePrior } = curveNamed('saturating')!;
  // Of v = exp(−s) flat between 0 and 1 the density of s is exp(−s).
  for (const [low, high] of [
    [0, 0.5],
    [1, 3],
  ] as const)
    expect(logShapePrior(high) - logShapePrior(low)).toBeCloseTo(low - high, 12);
});

test('a break lies where two feeders are on either side, each feeder counted to both', () => {
  expect(curveNamed('broken-line')!.shapeBounds([0.1, 0.4, 0.7, 1])).toEqual([0.4, 0.7]);
});
