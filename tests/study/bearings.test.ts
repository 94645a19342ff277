import { expect, test } from 'vitest';
import { bearingsOf } from '../../src/study/bearings.ts';
import type { AngledDance } from '../../src/study/bearings-observations.ts';

/** A dance for a feeder due east, the sun due south, of runs at these comb angles. */
const dance = (danceId: string, combAnglesDeg: readonly number[]): AngledDance => ({
  danceId,
  beeId: null,
  feederId: 'reed',
  treatment: null,
  startTime: '2031-06-14T12:00:00Z',
  runs: combAnglesDeg.map((combAngleDeg) => ({ combAngleDeg, sunAzimuthDeg: 180, sunElevationDeg: 50 })),
  flags: [],
});
const reed = { feederId: 'reed', distanceM: 500, bearingDeg: 90, latitudeDeg: null, longitudeDeg: null };

test('a single run to a feeder scatters as runs do, not as if it agreed with itself', () => {
  const dances = [-95, -85, -92, -88, -90, -91].map((angle, k) => dance(`d${k}`, [angle]));
  const { directionCalibration } = bearingsOf(dances, [reed], {
    posture: 'vertical',
    runs: 'all',
    level: 0.95,
    runScatter: { kappa: 4, degreesOfFreedom: 20 },
  });
  // 1/(κ·A) with κ = 4 and A = I1(4)/I0(4) = 0.8635 (Fisher 1993, appendix A.3; from memory), in degrees².
  expect(directionCalibration!.meanRunVarianceDeg2 / ((180 / Math.PI) ** 2 / (4 * 0.8635))).toBeCloseTo(1, 4);
});
