import { describe, expect, test } from 'vitest';
import { calibrate } from '../../src/calibration/calibrate.ts';
import { defaultPrior } from '../../src/calibration/defaults.ts';
import { posteriorBelow, posteriorQuantile } from '../../src/calibration/distance-posterior.ts';
import { estimateDistance, estimatorOf, neighbourhoods } from '../../src/calibration/estimate.ts';
import { seededRandom } from '../../src/random.ts';
import { calibrated, type SimulatedStudy, simulatedDance, simulatedDances } from './simulated.ts';

const straight: SimulatedStudy = {
  distancesM: [100, 250, 500, 800, 1200, 1800],
  bees: 6,
  dancesPerFeeder: 2,
  runsPerDance: 5,
  beeSdS: 0.07,
  danceSdS: 0.05,
  runSdS: 0.14,
  curve: (distanceM) => 0.2 + 0.0012 * distanceM,
};
const levelling: SimulatedStudy = {
  ...straight,
  distancesM: [100, 300, 600, 1200, 2400, 4000],
  curve: (distanceM) => 0.15 + 2.6 * (1 - Math.exp(-distanceM / 1500)),
};

describe('calibrate', () => {
  test('auto takes the line for a simulated straight colony, and the truth is within the errors', () => {
    const calibration = calibrated(simulatedDances(straight, 11), 'auto');
    expect(calibration.curve).toBe('line');
    expect(Math.abs(calibration.parameters[1] - 0.0012)).toBeLessThan(3 * calibration.standardErrors[1]);
    expect(calibration.counts).toEqual({ feeders: 6, bees: 6, dances: 72, runs: 360 });
    const { betweenBeesS, betweenDancesS, runsNearS } = calibration.scatter;
    for (const [ranged, truth] of [
      [betweenBeesS!, 0.07],
      [betweenDancesS!, 0.05],
      [runsNearS, 0.14],
    ] as const) {
      expect(ranged.low).toBeLessThan(truth);
      expect(ranged.high).toBeGreaterThan(truth);
      expect(ranged.low).toBeLessThan(ranged.value);
    }
    expect(calibration.conditionalRSquared).toBeGreaterThan(calibration.marginalRSquared);
    expect(calibration.leaveOneOut.map(({ feederM }) => feederM)).toEqual(straight.distancesM);
    expect(calibration.candidates[0].leftOutErrorM).toBeLessThan(100);
    expect(calibration.warnings).toEqual([]);
  });

  test('auto takes the saturating curve for a simulated levelling colony', () => {
    const calibration = calibrated(simulatedDances(levelling, 12), 'auto');
    expect(calibration.curve).toBe('saturating');
    const [line, saturating] = calibration.candidates;
    expect(saturating.aicc!).toBeLessThan(line.aicc!);
    [0.15, 2.6, 1500].forEach((truth, index) => {
      const miss = Math.abs(calibration.parameters[index] - truth);
      expect(miss).toBeLessThan(3 * calibration.standardErrors[index]);
    });
  });

  test('the same seed draws the same, another seed otherwise', () => {
    const dances = simulatedDances(straight, 13);
    const options = { leaveOut: false, draws: 20 };
    const first = calibrated(dances, 'line', { ...options, seed: 5 });
    expect(calibrated(dances, 'line', { ...options, seed: 5 })).toEqual(first);
    expect(calibrated(dances, 'line', { ...options, seed: 6 }).draws).not.toEqual(first.draws);
  });

  const at = (distanceM: number, meanS: number, beeId: string | null = null) => ({
    danceId: `${distanceM}-${meanS}`,
    beeId,
    distanceM,
    meanS,
    usedRuns: 1,
    squaredDeviations: 0,
  });

  test.each([
    ['one feeder', [at(300, 0.5), at(300, 0.6), at(300, 0.55)], 'auto', /one distance only \(300 m\)/],
    ['two dances', [at(300, 0.5), at(600, 0.9)], 'auto', /2 dances/],
    ['two distances for a saturating curve', [at(1, 1), at(1, 2), at(2, 3)], 'saturating', /2 distances/],
    ['times that fall', [at(100, 3), at(200, 2), at(300, 1.1), at(400, 0.4)], 'line', /do not rise/],
    [
      'times that bend upwards, for a saturating curve',
      [at(100, 0.2), at(200, 0.3), at(300, 0.6), at(400, 1.2), at(500, 2.4)],
      'saturating',
      /do not level off/,
    ],
  ])('%s: says what was found, gives no numbers', (_, dances, curve, found) => {
    const outcome = calibrate(dances, curve);
    expect(outcome.ok).toBe(false);
    expect(!outcome.ok && outcome.found).toMatch(found);
  });

  test('warns of few feeders, one bee that dominates, missing marks, distances that may be kilometres', () => {
    const dances = [at(0.2, 0.4, 'red'), at(0.5, 0.7, 'red'), at(0.8, 1.2, 'red'), at(0.8, 1.1)];
    const warnings = calibrated(dances, 'line').warnings.join('\n');
    expect(warnings).toMatch(/Only 3 feeder distances/);
    expect(warnings).toMatch(/Bee red danced 3 of 4 dances/);
    expect(warnings).toMatch(/1 of 4 dances have no bee_id/);
    expect(warnings).toMatch(/in metres\?/);
    expect(warnings).toMatch(/No dance has two used runs/);
  });

  test('a bee with one run, and bees without marks, are borne', () => {
    const dances = simulatedDances(straight, 14);
    const lone = { ...at(500, 0.85, 'lone'), danceId: 'lone' };
    const unmarked = { ...at(800, 1.2), danceId: 'unmarked' };
    const calibration = calibrated([...dances, lone, unmarked], 'line', { leaveOut: false, draws: 50 });
    expect(calibration.counts).toMatchObject({ bees: 7, dances: 74 });
    expect(calibration.components).toEqual({ bee: true, dance: true, growth: true });
  });

  test('warns of feeders close together and unevenly sampled, and of few bees', () => {
    const dances = simulatedDances(
      { ...straight, distancesM: [300, 350, 400, 450], bees: 3, dancesPerFeeder: 5 },
      4,
    );
    const thinned = dances.filter(({ distanceM }, i) => distanceM !== 450 || i % 15 === 19 % 15);
    const warnings = calibrated(thinned, 'line', { leaveOut: false }).warnings.join('\n');
    expect(warnings).toMatch(/close together \(300 to 450 m\)/);
    expect(warnings).toMatch(/sampled unevenly: \d+ dances? at 450 m, 15 at/);
    expect(warnings).toMatch(/Only 3 bees/);
  });
});

describe('estimateDistance', () => {
  const line = calibrated(simulatedDances(straight, 11), 'line', { leaveOut: false, draws: 150 });
  const saturating = calibrated(simulatedDances(levelling, 12), 'saturating', { leaveOut: false });
  const estimator = estimatorOf(line);
  const told = (meanS: number, usedRuns = 4, beeId: string | null = null) =>
    estimateDistance(line, estimator, { beeId, meanS, usedRuns }, 0.95);

  test('median near where the curve takes the time; the interval about as wide as the scatter is', () => {
    const { distanceM, lowM, highM, inRange, notes } = told(1.1);
    const [a, b] = line.parameters;
    expect(Math.abs(distanceM! - (1.1 - a) / b)).toBeLessThan(15);
    const { betweenBeesS, betweenDancesS, runsNearS } = line.scatter;
    const sd =
      Math.sqrt(betweenBeesS!.value ** 2 + betweenDancesS!.value ** 2 + runsNearS.value ** 2 / 4) / b;
    expect((highM! - lowM!) / (2 * 1.96 * sd)).toBeGreaterThan(0.95);
    expect((highM! - lowM!) / (2 * 1.96 * sd)).toBeLessThan(1.4);
    expect(inRange).toBe(true);
    expect(notes).toEqual([]);
  });

  test('95 % intervals hold the true distance of about 95 % of simulated dances', () => {
    const random = seededRandom(2024);
    const trials = 120;
    let held = 0;
    for (let trial = 0; trial < trials; trial++) {
      const distanceM = random.between(300, 1700);
      const dance = simulatedDance(straight, distanceM, straight.beeSdS * random.normal(), random);
      const below = posteriorBelow(estimator.posterior({ beeId: null, ...dance })!, distanceM);
      if (Math.abs(below - 0.5) <= 0.475) held++;
    }
    // Beside chance among the trials (SD 2 %), the one calibration used has errors of its own.
    expect(held / trials).toBeGreaterThan(0.88);
    expect(held / trials).toBeLessThan(0.999);
  }, 30_000);

  test('a bee of the calibration is told more narrowly than one not met before', () => {
    const width = (beeId: string | null) => {
      const { lowM, highM } = told(1.1, 4, beeId);
      return highM! - lowM!;
    };
    expect(width('bee-0')).toBeLessThan(0.95 * width(null));
    expect(width('never met')).toBe(width(null));
  });

  test('near the hive: too near to read, an upper bound and no number', () => {
    const near = told(0.17);
    expect(near.distanceM).toBeNull();
    expect(near.lowM).toBe(0);
    expect(near.highM).toBeGreaterThan(0);
    expect(near.inRange).toBe(false);
    expect(near.notes).toEqual(['too near to read']);
  });

  test('far beyond the feeders: extrapolated; at the last feeder: leans on extrapolation', () => {
    expect(told(4).inRange).toBe(false);
    expect(told(4).notes).toEqual(['extrapolated']);
    const [a, b] = line.parameters;
    const last = told(a + b * 1780);
    expect(last.inRange).toBe(true);
    expect(last.notes).toEqual(['leans on extrapolation']);
  });

  test('beyond the feeders a saturating curve goes on straight, and says it is extrapolated', () => {
    const [a, c] = saturating.parameters;
    const about = estimateDistance(
      saturating,
      estimatorOf(saturating),
      { beeId: null, meanS: a + c + 0.1, usedRuns: 4 },
      0.95,
    );
    expect(about.distanceM).toBeGreaterThan(4000);
    expect(about.highM).toBeGreaterThan(about.distanceM!);
    expect(about.notes[0]).toBe('extrapolated');
  });

  test('an interval that runs to the end of the prior says so', () => {
    const found = estimateDistance(line, estimator, { beeId: null, meanS: 14.4, usedRuns: 4 }, 0.95);
    expect(found.notes).toEqual(['extrapolated', 'upper bound is that of the prior']);
  });

  test('times that no distance explains get no numbers', () => {
    const long = told(30);
    expect(long.distanceM).toBeNull();
    expect(long.notes).toEqual(['longer than the curve at any distance up to 12000 m']);
    const raised = { ...line, parameters: [2, line.parameters[1]] };
    const short = estimateDistance(raised, estimator, { beeId: null, meanS: 0.5, usedRuns: 4 }, 0.95);
    expect(short.distanceM).toBeNull();
    expect(short.notes).toEqual(['too near to read', 'shorter than the curve at any distance']);
  });

  test('a prior that ends nearer ends the posterior', () => {
    const prior = { nearestM: 0, farthestM: 800 };
    const { highM } = estimateDistance(
      line,
      estimator,
      { beeId: null, meanS: 1.1, usedRuns: 4 },
      0.95,
      prior,
    );
    expect(highM).toBeLessThanOrEqual(800);
    expect(highM).toBeGreaterThan(780);
  });

  test('points exactly on the curve give a distance almost without width', () => {
    const dances = [100, 200, 300, 400].map((distanceM) => ({
      danceId: `${distanceM}`,
      beeId: 'red',
      distanceM,
      meanS: 0.1 + distanceM / 1000,
      usedRuns: 1,
      squaredDeviations: 0,
    }));
    const exact = calibrated(dances, 'auto', { leaveOut: false });
    const found = estimateDistance(
      exact,
      estimatorOf(exact),
      { beeId: null, meanS: 0.35, usedRuns: 1 },
      0.95,
    );
    expect(found.distanceM).toBeCloseTo(250, 1);
    expect(found.highM! - found.lowM!).toBeLessThan(1);
  });

  test('probability within each feeder’s neighbourhood', () => {
    const posterior = estimator.posterior({ beeId: null, meanS: 0.8, usedRuns: 6 }, defaultPrior)!;
    const near = neighbourhoods(posterior, [100, 250, 500, 800]);
    expect(near.map(({ fromM, toM }) => [fromM, toM])).toEqual([
      [25, 175],
      [175, 375],
      [375, 650],
      [650, 950],
    ]);
    expect(near[2].probability).toBeGreaterThan(0.7);
    const whole = near.reduce((sum, { probability }) => sum + probability, 0);
    expect(whole).toBeCloseTo(posteriorBelow(posterior, 950) - posteriorBelow(posterior, 25), 12);
  });

  test('quantiles and probabilities of a posterior undo each other', () => {
    const posterior = estimator.posterior({ beeId: null, meanS: 0.8, usedRuns: 3 })!;
    for (const probability of [0.001, 0.025, 0.3, 0.5, 0.975, 0.9999]) {
      expect(posteriorBelow(posterior, posteriorQuantile(posterior, probability))).toBeCloseTo(
        probability,
        9,
      );
    }
  });
});
