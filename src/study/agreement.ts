import { quantileSorted } from 'd3-array';
import { intersectionOverUnion, matchStretches, scoresOf } from '../dance/agreement.ts';
import { medianOf } from '../signal/quantile.ts';
import {
  cohensKappa,
  type Kappa,
  type LimitsOfAgreement,
  limitsOfAgreement,
} from './agreement-statistics.ts';
import { type CallRow, callKindSchema, type TrainRow } from './tables.ts';

/** Errors of matched times, ms: found − reference. */
export interface TimeErrors {
  readonly medianAbsoluteMs: number | null;
  readonly medianMs: number | null;
  /** 5 % and 95 % quantiles, straight between order statistics (type 7 of Hyndman & Fan 1996). */
  readonly lowMs: number | null;
  readonly highMs: number | null;
}

/** How found trains agree with reference ones, matched one to one at a shared part of 0.5 and more. */
export interface TrainAgreement {
  readonly reference: number;
  readonly found: number;
  readonly matched: number;
  readonly precision: number | null;
  readonly recall: number | null;
  readonly f1: number | null;
  readonly onset: TimeErrors;
  readonly offset: TimeErrors;
  readonly duration: TimeErrors;
  /** Unmatched found trains that lie mostly on a reference begging call, and how many such calls there are. */
  readonly beggingCallsTakenForTrains: number;
  readonly referenceBeggingCalls: number;
}

/**
 * How far two reviewers, or a reviewer and the detector, agree beyond chance: kappa on the kinds of calls that
 * both hold, and limits of agreement of run durations (found − reference, s). undefined where there are too few.
 */
export interface Concordance {
  readonly callKappa: Kappa | undefined;
  readonly durationLimitsS: LimitsOfAgreement | undefined;
}

/** Agreement of two lists of the same recordings’ sounds; rejected ones do not count. */
export function concordance(
  reference: { readonly trains: readonly TrainRow[]; readonly calls: readonly CallRow[] },
  found: { readonly trains: readonly TrainRow[]; readonly calls: readonly CallRow[] },
): Concordance {
  const calls = matchStretches(reference.calls.filter(counts), found.calls.filter(counts), SAME_CALL).pairs;
  const trains = matchStretches(reference.trains.filter(counts), found.trains.filter(counts)).pairs;
  const kinds = callKindSchema.options;
  const table = kinds.map((mine) =>
    kinds.map((theirs) => calls.filter((p) => p.reference.kind === mine && p.found.kind === theirs).length),
  );
  const durationS = (row: TrainRow) => row.end_s - row.start_s;
  return {
    callKappa: cohensKappa(table),
    durationLimitsS: limitsOfAgreement(trains.map((p) => durationS(p.found) - durationS(p.reference))),
  };
}

/** Share of their union from which two calls are the same. */
const SAME_CALL = 0.3;

/** For each kind of call in the reference: how many, how many found at all, how many named right. */
export interface CallAgreement {
  readonly kind: string;
  readonly reference: number;
  readonly found: number;
  readonly namedRight: number;
  readonly recall: number | null;
}

/**
 * Compares found with reference trains. Rejected rows count on neither side. Two rows are the same train when
 * they share at least half of their union (IoU ≥ 0.5) on the same recording.
 */
export function compareTrains(
  reference: readonly TrainRow[],
  found: readonly TrainRow[],
  referenceCalls: readonly CallRow[] = [],
): TrainAgreement {
  const wanted = reference.filter(counts);
  const given = found.filter(counts);
  const { pairs, missed, extra } = matchStretches(wanted, given);
  const scores = scoresOf({ pairs: pairs.length, missed: missed.length, extra: extra.length });
  const errors = (pick: (row: TrainRow) => number) =>
    timeErrors(pairs.map((pair) => 1000 * (pick(pair.found) - pick(pair.reference))));
  const begging = referenceCalls.filter((call) => counts(call) && call.kind === 'begging');
  const taken = extra.filter((train) =>
    begging.some((call) => call.recording === train.recording && mostlyOn(train, call)),
  );
  return {
    reference: wanted.length,
    found: given.length,
    matched: pairs.length,
    precision: orNull(scores.precision),
    recall: orNull(scores.recall),
    f1: orNull(scores.f1),
    onset: errors((row) => row.start_s),
    offset: errors((row) => row.end_s),
    duration: errors((row) => row.end_s - row.start_s),
    beggingCallsTakenForTrains: taken.length,
    referenceBeggingCalls: begging.length,
  };
}

/** Compares found with reference calls, kind by kind; a call is found when any found call shares 0.3 of it. */
export function compareCalls(reference: readonly CallRow[], found: readonly CallRow[]): CallAgreement[] {
  const wanted = reference.filter(counts);
  const { pairs } = matchStretches(wanted, found.filter(counts), SAME_CALL);
  return [...new Set(wanted.map((call) => call.kind))].sort().map((kind) => {
    const ofKind = pairs.filter((pair) => pair.reference.kind === kind);
    const total = wanted.filter((call) => call.kind === kind).length;
    return {
      kind,
      reference: total,
      found: ofKind.length,
      namedRight: ofKind.filter((pair) => pair.found.kind === kind).length,
      recall: total === 0 ? null : ofKind.length / total,
    };
  });
}

function counts(row: { status: string }): boolean {
  return row.status !== 'rejected';
}

function mostlyOn(train: TrainRow, call: CallRow): boolean {
  const shared = Math.min(train.end_s, call.end_s) - Math.max(train.start_s, call.start_s);
  return shared > 0.5 * (train.end_s - train.start_s) || intersectionOverUnion(train, call) > 0.3;
}

function timeErrors(errorsMs: readonly number[]): TimeErrors {
  if (errorsMs.length === 0) return { medianAbsoluteMs: null, medianMs: null, lowMs: null, highMs: null };
  const sorted = [...errorsMs].sort((a, b) => a - b);
  return {
    medianAbsoluteMs: medianOf(sorted.map(Math.abs)),
    medianMs: medianOf(sorted),
    lowMs: quantileSorted(sorted, 0.05)!,
    highMs: quantileSorted(sorted, 0.95)!,
  };
}

function orNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
