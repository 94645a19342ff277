import { describe, expect, test } from 'vitest';
import { cohensKappa, limitsOfAgreement } from '../../src/study/agreement-statistics.ts';

describe('Cohen’s kappa', () => {
  test('the textbook example of fifty proposals: 20 yes by both, 15 no by both, 5 and 10 apart', () => {
    // A common worked example, figures from memory: observed 0.7, expected 0.5, kappa 0.4.
    const kappa = cohensKappa([
      [20, 5],
      [10, 15],
    ])!;
    expect(kappa.observed).toBeCloseTo(0.7, 12);
    expect(kappa.expected).toBeCloseTo(0.5, 12);
    expect(kappa.value).toBeCloseTo(0.4, 12);
    // By hand from the formula of Fleiss, Cohen & Everitt: see the sum below.
    const p = [
      [0.4, 0.1],
      [0.2, 0.3],
    ];
    const [rows, columns] = [
      [0.5, 0.5],
      [0.6, 0.4],
    ];
    const diagonal =
      p[0][0] * (1 - (rows[0] + columns[0]) * 0.6) ** 2 + p[1][1] * (1 - (rows[1] + columns[1]) * 0.6) ** 2;
    const apart = 0.36 * (p[0][1] * (columns[0] + rows[1]) ** 2 + p[1][0] * (columns[1] + rows[0]) ** 2);
    const variance = (diagonal + apart - (0.4 - 0.5 * 0.6) ** 2) / (50 * 0.25);
    expect(kappa.standardError).toBeCloseTo(Math.sqrt(variance), 12);
    expect(kappa.high - kappa.low).toBeCloseTo(2 * 1.959964 * Math.sqrt(variance), 5);
  });

  test('complete agreement is 1, blind choice 0, and one category throughout tells nothing', () => {
    expect(
      cohensKappa([
        [5, 0],
        [0, 7],
      ]),
    ).toMatchObject({ value: 1, low: 1, high: 1 });
    expect(
      cohensKappa([
        [4, 4],
        [4, 4],
      ])!.value,
    ).toBeCloseTo(0, 12);
    expect(
      cohensKappa([
        [9, 0],
        [0, 0],
      ]),
    ).toBeUndefined();
    expect(cohensKappa([[0]])).toBeUndefined();
  });
});

describe('limits of agreement', () => {
  test('peak flow of 17 subjects by two meters', () => {
    // Bland & Altman 1986, Lancet i:307 (data and results from memory): mean −2.1, SD 38.8 l/min, limits −79.7
    // and 75.5 with 2 SD; first measurements by large and mini meter.
    const large = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
    const mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
    const found = limitsOfAgreement(large.map((value, i) => value - mini[i]))!;
    expect(found.count).toBe(17);
    expect(found.bias.value).toBeCloseTo(-2.1, 1);
    expect(found.standardDeviation).toBeCloseTo(38.8, 1);
    expect(found.lower.value).toBeCloseTo(-2.12 - 1.96 * 38.77, 0);
    // Interval of the bias there: −22.0 to 17.8.
    expect(found.bias.low).toBeCloseTo(-22.0, 0);
    expect(found.bias.high).toBeCloseTo(17.8, 0);
    expect(found.upper.high).toBeGreaterThan(found.upper.value);
  });

  test('needs two', () => {
    expect(limitsOfAgreement([1])).toBeUndefined();
    expect(limitsOfAgreement([1, 1])!.standardDeviation).toBe(0);
  });
});
