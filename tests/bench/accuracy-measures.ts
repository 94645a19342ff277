import { intersectionOverUnion, matchStretches } from '../../src/dance/agreement.ts';
import type { TrainRow } from '../../src/study/tables.ts';

/**
 * Pair-wise F1 of grouping: over all pairs of matched runs, those put in one dance by truth and by finding.
 * Pairs-counting precision and recall as for clusterings (Rand 1971, J Am Stat Assoc 66:846; from memory).
 */
export function groupingF1(truth: readonly TrainRow[], found: readonly TrainRow[]): number {
  const { pairs } = matchStretches(truth, found);
  let both = 0;
  let onlyTruth = 0;
  let onlyFound = 0;
  for (let i = 0; i < pairs.length; i++) {
    for (let j = i + 1; j < pairs.length; j++) {
      const same = pairs[i]!.reference.dance_id === pairs[j]!.reference.dance_id;
      const put = pairs[i]!.found.dance_id === pairs[j]!.found.dance_id;
      if (same && put) both++;
      else if (same) onlyTruth++;
      else if (put) onlyFound++;
    }
  }
  return (2 * both) / (2 * both + onlyTruth + onlyFound);
}

export interface ReliabilityBin {
  readonly label: string;
  readonly count: number;
  readonly mean: number;
  readonly real: number;
  /** 95 % interval of `real`: Wilson 1927, J Am Stat Assoc 22:209 (from memory). */
  readonly realLow: number;
  readonly realHigh: number;
}

function scoreInterval(share: number, count: number): Pick<ReliabilityBin, 'realLow' | 'realHigh'> {
  const z = 1.96;
  const middle = (share + z ** 2 / (2 * count)) / (1 + z ** 2 / count);
  const half =
    (z * Math.sqrt((share * (1 - share)) / count + z ** 2 / (4 * count ** 2))) / (1 + z ** 2 / count);
  return { realLow: middle - half, realHigh: middle + half };
}

/** Of runs listed with a confidence, the share that is real (IoU ≥ 0.5 with a true run), by bins; Brier score. */
export function reliability(all: readonly (readonly [readonly TrainRow[], readonly TrainRow[]])[]): {
  bins: ReliabilityBin[];
  brier: number;
} {
  const judged = all.flatMap(([truth, found]) =>
    found.map((train) => ({
      confidence: train.confidence ?? 0,
      real: truth.some((one) => intersectionOverUnion(one, train) >= 0.5) ? 1 : 0,
    })),
  );
  const edges = [0.5, 0.7, 0.8, 0.9, 0.97, 1.001];
  const bins = edges.slice(1).map((high, k): ReliabilityBin => {
    const members = judged.filter((one) => one.confidence >= edges[k]! && one.confidence < high);
    const mean = (pick: (one: (typeof judged)[number]) => number) =>
      members.reduce((sum, one) => sum + pick(one), 0) / members.length;
    const real = mean((one) => one.real);
    return {
      label: `${edges[k]!.toFixed(2)} to ${Math.min(1, high).toFixed(2)}`,
      count: members.length,
      mean: mean((one) => one.confidence),
      real,
      ...scoreInterval(real, members.length),
    };
  });
  const brier = judged.reduce((sum, one) => sum + (one.confidence - one.real) ** 2, 0) / judged.length;
  return { bins, brier };
}
