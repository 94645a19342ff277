import { stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { Command } from 'commander';
import { compareCalls, compareTrains, concordance } from '../study/agreement.ts';
import { agreementText } from '../study/agreement-text.ts';
import { readTable } from '../study/csv.ts';
import { callSchema, trainSchema } from '../study/tables.ts';

interface AgreeOptions {
  readonly reference: string;
  readonly found: string;
  readonly json?: boolean;
}

const example = `
Example:
  $ combtone agree --reference simulated/simulated-truth/trains.csv --found found/trains.csv
  compares two trains.csv; where each has a calls.csv beside it, the calls are compared too. Two rows are the
  same run when they share at least half of the time that either covers.
`;

/** Adds `combtone agree`: compares found with reference tables. */
export function registerAgree(program: Command): void {
  program
    .command('agree')
    .description('compare found with reference trains and calls: precision, recall, errors of time')
    .requiredOption('--reference <file>', 'trains.csv taken as true')
    .requiredOption('--found <file>', 'trains.csv to be judged')
    .option('--json', 'print the comparison as JSON')
    .addHelpText('after', example)
    .action(async (options: AgreeOptions) => {
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
    });
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
