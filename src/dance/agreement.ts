import { bisector } from 'd3-array';

/** A stretch of sound with a start and an end, s, on one recording. */
export interface Stretch {
  readonly recording: string;
  readonly start_s: number;
  readonly end_s: number;
}

/** Which of the found stretches is which of the reference ones. */
export interface Matching<R extends Stretch, F extends Stretch> {
  readonly pairs: readonly { readonly reference: R; readonly found: F }[];
  readonly missed: readonly R[];
  readonly extra: readonly F[];
}

/**
 * Share of two stretches that they have in common: length of the intersection over length of the union
 * (Jaccard 1912, New Phytol 11:37), 0 to 1.
 */
export function intersectionOverUnion(a: Stretch, b: Stretch): number {
  const shared = Math.min(a.end_s, b.end_s) - Math.max(a.start_s, b.start_s);
  if (shared <= 0) return 0;
  return shared / (Math.max(a.end_s, b.end_s) - Math.min(a.start_s, b.start_s));
}

/**
 * Pairs stretches one to one, those that share most first, as long as they share at least `leastShare` of
 * their union. Stretches of different recordings are never paired.
 */
export function matchStretches<R extends Stretch, F extends Stretch>(
  reference: readonly R[],
  found: readonly F[],
  leastShare = 0.5,
): Matching<R, F> {
  const byRecording = new Map<string, F[]>();
  for (const row of found) {
    const rows = byRecording.get(row.recording);
    if (rows) rows.push(row);
    else byRecording.set(row.recording, [row]);
  }
  for (const rows of byRecording.values()) rows.sort((a, b) => a.start_s - b.start_s);
  const longestByRecording = new Map(
    [...byRecording].map(([name, rows]) => [name, Math.max(...rows.map((row) => row.end_s - row.start_s))]),
  );
  const candidates: { reference: R; found: F; share: number }[] = [];
  for (const row of reference) {
    const rows = byRecording.get(row.recording) ?? [];
    const earliest = row.start_s - (longestByRecording.get(row.recording) ?? 0);
    for (let k = firstFrom(rows, earliest); k < rows.length && rows[k]!.start_s < row.end_s; k++) {
      const share = intersectionOverUnion(row, rows[k]!);
      if (share >= leastShare) candidates.push({ reference: row, found: rows[k]!, share });
    }
  }
  candidates.sort((a, b) => b.share - a.share);
  const takenReference = new Set<R>();
  const takenFound = new Set<F>();
  const pairs: { reference: R; found: F }[] = [];
  for (const candidate of candidates) {
    if (takenReference.has(candidate.reference) || takenFound.has(candidate.found)) continue;
    takenReference.add(candidate.reference);
    takenFound.add(candidate.found);
    pairs.push({ reference: candidate.reference, found: candidate.found });
  }
  return {
    pairs,
    missed: reference.filter((row) => !takenReference.has(row)),
    extra: found.filter((row) => !takenFound.has(row)),
  };
}

/** Precision, recall and their harmonic mean (van Rijsbergen 1979, Information Retrieval, ch. 7). */
export function scoresOf(counts: { pairs: number; missed: number; extra: number }): {
  precision: number;
  recall: number;
  f1: number;
} {
  const { pairs, missed, extra } = counts;
  return {
    precision: pairs + extra === 0 ? Number.NaN : pairs / (pairs + extra),
    recall: pairs + missed === 0 ? Number.NaN : pairs / (pairs + missed),
    f1: 2 * pairs + missed + extra === 0 ? Number.NaN : (2 * pairs) / (2 * pairs + missed + extra),
  };
}

/** Position of the first row that starts at or after a time; rows are in order of start. */
const firstFrom = bisector((row: Stretch) => row.start_s).left;
