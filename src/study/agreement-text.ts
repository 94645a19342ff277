import type { CallAgreement, Concordance, TimeErrors, TrainAgreement } from './agreement.ts';
import type { WithInterval } from './agreement-statistics.ts';
import { textTable } from './text-table.ts';

/** A comparison of found with reference tables, for people to read. */
export function agreementText(
  trains: TrainAgreement,
  calls: readonly CallAgreement[],
  beyond?: Concordance,
): string {
  const share = (value: number | null) => (value === null ? 'unknown' : value.toFixed(3));
  const lines = [
    `Runs: ${trains.reference} in the reference, ${trains.found} found, ${trains.matched} the same (at least half shared)`,
    `precision ${share(trains.precision)}, recall ${share(trains.recall)}, F1 ${share(trains.f1)}`,
    '',
    textTable([
      ['error, ms (found − reference)', 'median absolute', 'median', '5 %', '95 %'],
      ['onset', ...errorCells(trains.onset)],
      ['offset', ...errorCells(trains.offset)],
      ['duration', ...errorCells(trains.duration)],
    ]),
    '',
    `Begging calls taken for runs: ${trains.beggingCallsTakenForTrains} of ${trains.referenceBeggingCalls}`,
  ];
  if (calls.length > 0) {
    lines.push(
      '',
      textTable([
        ['call', 'reference', 'found', 'recall', 'named right'],
        ...calls.map((call) => [
          call.kind,
          String(call.reference),
          String(call.found),
          share(call.recall),
          String(call.namedRight),
        ]),
      ]),
    );
  }
  if (beyond !== undefined) lines.push('', ...concordanceLines(beyond));
  return lines.join('\n');
}

function concordanceLines({ callKappa, durationLimitsS }: Concordance): string[] {
  const ms = ({ value, low, high }: WithInterval) =>
    `${(1000 * value).toFixed(1)} (${(1000 * low).toFixed(1)} to ${(1000 * high).toFixed(1)})`;
  return [
    callKappa === undefined
      ? 'Cohen’s kappa on kinds of calls: unknown (too few calls in common, or all of one kind)'
      : `Cohen’s kappa on kinds of calls: ${callKappa.value.toFixed(3)} (95 %: ${callKappa.low.toFixed(3)} to ${callKappa.high.toFixed(3)})`,
    durationLimitsS === undefined
      ? 'Limits of agreement of durations: unknown (fewer than two runs in common)'
      : `Limits of agreement of durations, ms (95 % intervals): bias ${ms(durationLimitsS.bias)}, ` +
        `lower ${ms(durationLimitsS.lower)}, upper ${ms(durationLimitsS.upper)}`,
  ];
}

function errorCells(errors: TimeErrors): string[] {
  return [errors.medianAbsoluteMs, errors.medianMs, errors.lowMs, errors.highMs].map((value) =>
    value === null ? '' : value.toFixed(1),
  );
}
