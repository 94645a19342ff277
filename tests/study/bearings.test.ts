import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { sunPosition } from '../../src/bearing/sun.ts';
import { bearingsOf } from '../../src/study/bearings.ts';
import { type AngledDance, readAngles } from '../../src/study/bearings-observations.ts';

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

test('the comb angle goes from 0 to 360, as it is noted', () => {
  const settings = { posture: 'vertical', runs: 'all', level: 0.95, runScatter: null } as const;
  const { rows } = bearingsOf([dance('left', [-162]), dance('up', [359.9999, 359.9997])], [reed], settings);
  expect(rows.map((row) => row.comb_angle_deg)).toEqual([198, 0]);
});

test('a run without a time of its own has that of the run before it, the first ones that of the first with one', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'combtone-angles-'));
  try {
    const file = join(folder, 'angles.csv');
    const rows = ['d1,10,', 'd1,11,2031-06-14T09:00:00Z', 'd1,12,', 'd1,13,2031-06-14T10:00:00Z', 'd1,14,'];
    await writeFile(file, `dance_id,comb_angle_deg,start_time\n${rows.join('\n')}\n`);
    const site = { latitudeDeg: 50, longitudeDeg: 10 };
    const [read] = await readAngles(file, { site, timeZone: null, posture: 'vertical' }, null);
    const azimuthAt = (time: string) => sunPosition(site, Date.parse(time)).azimuthDeg;
    const [nine, ten] = [azimuthAt('2031-06-14T09:00:00Z'), azimuthAt('2031-06-14T10:00:00Z')];
    expect(read!.runs.map(({ sunAzimuthDeg }) => sunAzimuthDeg)).toEqual([nine, nine, nine, ten, ten]);
    expect(ten - nine).toBeGreaterThan(15);
  } finally {
    await rm(folder, { recursive: true });
  }
});
