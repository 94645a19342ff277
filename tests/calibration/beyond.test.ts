import { describe, expect, test } from 'vitest';
import { timeBeyond } from '../../src/calibration/beyond.ts';
import { curves } from '../../src/calibration/curves/registry.ts';

const examples: Readonly<Record<string, readonly number[]>> = {
  line: [0.2, 0.0012],
  saturating: [0.15, 2.4, 1500],
  power: [0.1, 1.2, 0.8],
  'broken-line': [0.2, 0.0015, 0.0008, 900],
};

describe.each(curves.filter(({ name }) => name in examples))('beyond the farthest feeder, $name', (curve) => {
  const parameters = examples[curve.name]!;
  const farthestM = 2000;
  const at = (distanceM: number) => timeBeyond(curve, parameters, distanceM, farthestM);

  test('up to it the curve is its own', () => {
    for (const distanceM of [0, 500, 2000]) expect(at(distanceM)).toBe(curve.value(distanceM, parameters));
  });

  test('there is no jump and no bend at it', () => {
    expect(at(farthestM + 1e-6)).toBeCloseTo(at(farthestM), 8);
    const slope = (at(farthestM + 1) - at(farthestM)) / (at(farthestM) - at(farthestM - 1));
    expect(slope).toBeCloseTo(1, 2);
  });

  test('a curve that levels off goes on straight, any other as it is', () => {
    const straight = at(farthestM) + curve.slope(farthestM, parameters) * 3000;
    const own = curve.value(5000, parameters);
    expect(at(5000)).toBeCloseTo(curve.levelsOff ? straight : own, 9);
  });
});
