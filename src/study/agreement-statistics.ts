import normal from '@stdlib/stats-base-dists-normal';
import studentT from '@stdlib/stats-base-dists-t';

/** A figure with an interval. */
export interface WithInterval {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** Cohen's kappa: agreement beyond what chance alone would give. */
export interface Kappa extends WithInterval {
  /** Share of the items on which both agree. */
  readonly observed: number;
  /** Share expected if each kept its own frequencies and chose blindly. */
  readonly expected: number;
  readonly standardError: number;
}

/**
 * Cohen's kappa of two judges (Cohen 1960, Educ Psychol Meas 20:37; from memory), with the large-sample standard
 * error of Fleiss, Cohen & Everitt 1969, Psychol Bull 72:323 (from memory).
 *
 * @param counts counts[i][j] items that the first called i and the second j; square
 * @param level probability of the interval
 * @returns undefined when there are no items, or both use one and the same category throughout
 */
export function cohensKappa(counts: readonly (readonly number[])[], level = 0.95): Kappa | undefined {
  const total = counts.reduce((sum, row) => sum + row.reduce((all, count) => all + count, 0), 0);
  if (total === 0) return undefined;
  const share = counts.map((row) => row.map((count) => count / total));
  const first = share.map((row) => row.reduce((sum, value) => sum + value, 0));
  const second = share.map((_, j) => share.reduce((sum, row) => sum + row[j], 0));
  const observed = share.reduce((sum, row, i) => sum + row[i], 0);
  const expected = first.reduce((sum, value, i) => sum + value * second[i], 0);
  if (expected >= 1) return undefined;
  const value = (observed - expected) / (1 - expected);
  let spread = 0;
  share.forEach((row, i) => {
    row.forEach((cell, j) => {
      // On the diagonal [1 − (p_i. + p_.i)(1 − κ)]², off it (1 − κ)²(p_.i + p_j.)².
      spread +=
        i === j
          ? cell * (1 - (first[i] + second[i]) * (1 - value)) ** 2
          : cell * (1 - value) ** 2 * (second[i] + first[j]) ** 2;
    });
  });
  const variance = (spread - (value - expected * (1 - value)) ** 2) / (total * (1 - expected) ** 2);
  const standardError = Math.sqrt(Math.max(variance, 0));
  const half = normal.quantile((1 + level) / 2, 0, 1) * standardError;
  return {
    value,
    low: Math.max(-1, value - half),
    high: Math.min(1, value + half),
    observed,
    expected,
    standardError,
  };
}

/** Bland & Altman's limits of agreement of two ways to measure the same things. */
export interface LimitsOfAgreement {
  readonly count: number;
  /** Mean difference, first less second. */
  readonly bias: WithInterval;
  readonly standardDeviation: number;
  /** Bias less and plus 1.96 SD, each with its interval. */
  readonly lower: WithInterval;
  readonly upper: WithInterval;
}

/**
 * Limits of agreement (Bland & Altman 1986, Lancet i:307): mean difference ± 1.96 SD. Their standard errors
 * are s/√n for the mean and s·√(1/n + 1.96²/(2(n − 1))) for the limits (Bland & Altman 1999, Stat Methods Med
 * Res 8:135), with t of n − 1 degrees of freedom. From memory. The pairs are taken as independent.
 *
 * @param differences first less second, one per item
 * @returns undefined for fewer than two
 */
export function limitsOfAgreement(
  differences: readonly number[],
  level = 0.95,
): LimitsOfAgreement | undefined {
  const count = differences.length;
  if (count < 2) return undefined;
  const mean = differences.reduce((sum, value) => sum + value, 0) / count;
  const variance = differences.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (count - 1);
  const sd = Math.sqrt(variance);
  const quantile = studentT.quantile((1 + level) / 2, count - 1);
  const z = 1.96;
  const about = (value: number, standardError: number): WithInterval => ({
    value,
    low: value - quantile * standardError,
    high: value + quantile * standardError,
  });
  const ofLimit = sd * Math.sqrt(1 / count + z ** 2 / (2 * (count - 1)));
  return {
    count,
    bias: about(mean, sd / Math.sqrt(count)),
    standardDeviation: sd,
    lower: about(mean - z * sd, ofLimit),
    upper: about(mean + z * sd, ofLimit),
  };
}
