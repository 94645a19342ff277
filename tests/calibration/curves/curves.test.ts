import { describe, expect, test } from 'vitest';
import { curveNamed, curves } from '../../../src/calibration/curves/registry.ts';
import { gradientAt } from '../../../src/calibration/linearisation.ts';

const examples: Record<string, number[]> = { line: [0.2, 0.0012], saturating: [0.15, 2.4, 1500] };

describe.each(curves)('curve $name', (curve) => {
  const parameters = examples[curve.name];

  test('its gradient is that of its values', () => {
    for (const distanceM of [0, 60, 400, 3000]) {
      const numeric = gradientAt({ value: curve.value }, distanceM, parameters);
      curve.gradient(distanceM, parameters).forEach((slope, index) => {
        expect(slope).toBeCloseTo(numeric[index], 6 - Math.log10(1 + Math.abs(numeric[index])));
      });
    }
  });

  test('rises, and is at fault when it does not', () => {
    expect(curve.direction).toBe('rising');
    expect(curve.value(500, parameters)).toBeGreaterThan(curve.value(100, parameters));
    expect(curve.fault(parameters)).toBeUndefined();
    expect(curve.fault(parameters.with(1, -parameters[1]))).toMatch(/rise/);
  });

  test('starts near the parameters of points that lie on it, in metres or kilometres', () => {
    const distancesM = [100, 300, 700, 1500, 3000];
    const responsesS = distancesM.map((distanceM) => curve.value(distanceM, parameters));
    const start = curve.start({ distancesM, responsesS });
    const inKilometres = curve.start({ distancesM: distancesM.map((d) => d / 1000), responsesS });
    for (const [index, distanceM] of distancesM.entries()) {
      expect(Math.abs(curve.value(distanceM, start) - responsesS[index])).toBeLessThan(0.05);
      expect(curve.value(distanceM / 1000, inKilometres)).toBeCloseTo(curve.value(distanceM, start), 9);
    }
  });
});

test('curves are found by name', () => {
  expect(curveNamed('saturating')?.formula).toBe('a + c·(1 − exp(−d/L))');
  expect(curveNamed('spiral')).toBeUndefined();
});
