import type { CallAgreement, TimeErrors, TrainAgreement } from './agreement.ts';
import { textTable } from './text-table.ts';

/** A comparison of found with reference tables, for people to read. */
export function agreementText(trains: TrainAgreement, calls: readonly CallAgreement[]): string {
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
  return lines.join('\n');
}

function errorCells(errors: TimeErrors): string[] {
  return [errors.medianAbsoluteMs, errors.medianMs, errors.lowMs, errors.highMs].map((value) =>
    value === null ? '' : value.toFixed(1),
  );
}
