import { describe, expect, test } from 'vitest';
import { calibrate } from '../../src/calibration/calibrate.ts';
import type { CalibrationDance } from '../../src/calibration/calibration.ts';
import { defaultPrior } from '../../src/calibration/defaults.ts';
import { estimateDistance, estimatorOf } from '../../src/calibration/estimate.ts';
import { correlate, type PairedRuns } from '../../src/calibration/joint.ts';
import { jointEstimator } from '../../src/calibration/joint-estimate.ts';
import { invertPair, leftOver, pairDeterminant, pairForm } from '../../src/calibration/pair.ts';
import { summariseRuns } from '../../src/calibration/runs.ts';
import { type Random, seededRandom } from '../../src/random.ts';

/** Simulated dance: a circuit is the run and a return phase, whose scatter is its own. */
function dance(distanceM: number, [runS, returnS]: readonly [number, number], random: Random) {
  const danceS = 0.2 + 0.0012 * distanceM + runS + 0.05 * random.normal();
  const rows = Array.from({ length: 5 }, () => {
    const durationS = danceS + 0.2 * random.normal();
    return [durationS, durationS + 1.3 + 0.0004 * distanceM + returnS + 0.15 * random.normal()] as const;
  });
  const duration = summariseRuns(
    rows.map(([value]) => value),
    'all',
  )!;
  const tempo = summariseRuns(
    rows.map(([, value]) => value),
    'all',
  )!;
  const product = rows.reduce((sum, [d, t]) => sum + (d - duration.meanS) * (t - tempo.meanS), 0);
  return { duration, tempo, product };
}

function study(seed: number) {
  const random = seededRandom(seed);
  const durations: CalibrationDance[] = [];
  const tempos: CalibrationDance[] = [];
  const pairs: PairedRuns[] = [];
  for (let bee = 0; bee < 8; bee++) {
    const own = [0.06 * random.normal(), 0.1 * random.normal()] as const;
    for (const distanceM of [150, 400, 800, 1400]) {
      for (let k = 0; k < 2; k++) {
        const danceId = `${bee}-${distanceM}-${k}`;
        const { duration, tempo, product } = dance(distanceM, own, random);
        durations.push({ danceId, beeId: `bee-${bee}`, distanceM, ...duration });
        tempos.push({ danceId, beeId: `bee-${bee}`, distanceM, ...tempo });
        const squares = [duration.squaredDeviations, product, tempo.squaredDeviations] as const;
        pairs.push({ danceId, paired: 5, squares });
      }
    }
  }
  const options = { draws: 80, leaveOut: false };
  const duration = calibrate(durations, 'line', options);
  const tempo = calibrate(tempos, 'line', options);
  if (!duration.ok || !tempo.ok) throw new Error('no calibration');
  return {
    duration: duration.calibration,
    tempo: tempo.calibration,
    correlations: correlate(duration.calibration, tempo.calibration, pairs, random),
  };
}

describe('duration and tempo together', () => {
  const joint = study(4);
  const both = jointEstimator(joint);

  test('correlations are those simulated', () => {
    // A circuit's scatter is that of its run, SD 0.2, and of the return phase, SD 0.15: correlation 0.8.
    expect(joint.correlations.runs).toBeCloseTo(0.8, 1);
    // Of bees 0.06/√(0.06² + 0.1²) = 0.51.
    expect(joint.correlations.bees.low).toBeLessThan(0.51);
    expect(joint.correlations.bees.high).toBeGreaterThan(0.51);
    expect(joint.correlations.draws).toHaveLength(80);
    expect([...joint.correlations.tempoDraws].sort((a, b) => a - b)).toEqual(
      Array.from({ length: 80 }, (_, i) => i),
    );
  });

  test('draws of the two curves are paired so that a long run goes with a long circuit', () => {
    const { duration, tempo, correlations } = joint;
    const middleM = Math.sqrt(150 * 1400);
    const timeOf = ({ parameters: [a, b] }: (typeof duration.draws)[number]) => a! + b! * middleM;
    const pairs = correlations.tempoDraws.map(
      (other, k) => [timeOf(duration.draws[k]!), timeOf(tempo.draws[other]!)] as const,
    );
    const mean = (which: 0 | 1) => pairs.reduce((sum, pair) => sum + pair[which], 0) / pairs.length;
    const means = [mean(0), mean(1)] as const;
    const product = (left: 0 | 1, right: 0 | 1) =>
      pairs.reduce((sum, pair) => sum + (pair[left] - means[left]) * (pair[right] - means[right]), 0);
    const correlation = product(0, 1) / Math.sqrt(product(0, 0) * product(1, 1));
    // Of bees some 0.5, of dances 1, of runs 0.8: the errors of the curves lie between, with 80 draws of them.
    expect(correlation).toBeGreaterThan(0.3);
    expect(correlation).toBeLessThan(0.95);
  });

  test('tell a distance no less narrowly than duration alone, and not as if they were independent', () => {
    const measured = { meanS: 0.2 + 0.0012 * 700, usedRuns: 5 };
    const tempo = { meanS: measured.meanS + 1.3 + 0.0004 * 700, usedRuns: 5 };
    const width = ({ lowM, highM }: { lowM: number | null; highM: number | null }) => highM! - lowM!;
    const together = both.estimate({ beeId: null, duration: measured, tempo, paired: 5 }, 0.95, defaultPrior);
    const alone = estimateDistance(
      joint.duration,
      estimatorOf(joint.duration),
      { beeId: null, ...measured },
      0.95,
    );
    const unpaired = both.estimate({ beeId: null, duration: measured, tempo, paired: 0 }, 0.95, defaultPrior);
    expect(Math.abs(together.distanceM! - 700)).toBeLessThan(60);
    expect(width(together)).toBeLessThan(1.02 * width(alone));
    expect(width(unpaired)).toBeLessThan(width(alone));
    expect(together.notes).toEqual([]);
    const known = both.estimate({ beeId: 'bee-0', duration: measured, tempo, paired: 5 }, 0.95, defaultPrior);
    expect(width(known)).toBeLessThan(width(together));
  });

  test('say so when they disagree', () => {
    const odd = {
      beeId: null,
      duration: { meanS: 0.7, usedRuns: 8 },
      tempo: { meanS: 3.9, usedRuns: 8 },
      paired: 8,
    };
    expect(both.estimate(odd, 0.95, defaultPrior).notes).toContain('duration and tempo disagree');
  });
});

test('two by two arithmetic, by hand', () => {
  expect(pairDeterminant([2, 1, 3])).toBe(5);
  expect(invertPair([2, 1, 3], [true, true])).toEqual([0.6, -0.2, 0.4]);
  expect(invertPair([2, 1, 4], [false, true])).toEqual([0, 0, 0.25]);
  expect(pairForm([2, 1, 3], [1, 2])).toBe(18);
  // (B⁻¹ + W)⁻¹ with B = diag(1, 4) and W = diag(1, 1): diag(1/2, 4/5); |I + BW| = 2·5.
  const { covariance, factor } = leftOver([1, 0, 4], [1, 0, 1]);
  expect(covariance[0]).toBeCloseTo(0.5, 12);
  expect(covariance[2]).toBeCloseTo(0.8, 12);
  expect(factor).toBeCloseTo(10, 12);
  expect(leftOver([0, 0, 0], [3, 1, 2]).covariance).toEqual([0, 0, 0]);
});
