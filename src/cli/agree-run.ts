import { stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { compareCalls, compareTrains, concordance } from '../study/agreement.ts';
import { agreementText } from '../study/agreement-text.ts';
import { readTable } from '../study/csv.ts';
import { callSchema, trainSchema } from '../study/tables.ts';

export interface AgreeOptions {
  readonly reference: string;
  readonly found: string;
  readonly json?: boolean;
}

/** Compares two tables of trains, and the calls beside them, and prints how far they agree. */
export async function runAgree(options: AgreeOptions): Promise<void> {
  const reference = await rowsOf(options.reference, trainSchema);
  const found = await rowsOf(options.found, trainSchema);
  const referenceCalls = await callsBeside(options.reference);
  const foundCalls = await callsBeside(options.found);
  const trains = compareTrains(reference, found, referenceCalls ?? []);
  const calls =
    referenceCalls === null || foundCalls === null ? [] : compareCalls(referenceCalls, foundCalls);
  const beyond = concordance(
    { trains: reference, calls: referenceCalls ?? [] },
    { trains: found, calls: foundCalls ?? [] },
  );
  process.stdout.write(
    options.json
      ? `${JSON.stringify({ trains, calls, ...beyond }, null, 2)}\n`
      : `${agreementText(trains, calls, beyond)}\n`,
  );
}

async function rowsOf<S extends Parameters<typeof readTable>[1]>(path: string, schema: S) {
  return (await readTable(path, schema)).map(({ row }) => row);
}

async function callsBeside(trainsPath: string) {
  const path = join(dirname(trainsPath), 'calls.csv');
  const present = await stat(path).then(
    () => true,
    () => false,
  );
  return present ? rowsOf(path, callSchema) : null;
}
