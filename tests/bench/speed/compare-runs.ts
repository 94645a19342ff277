import type { Figure } from './benchmark.ts';

/** What a run leaves in its JSON. */
export interface BenchRun {
  readonly machine: Readonly<Record<string, unknown>>;
  readonly versions: Readonly<Record<string, string>>;
  readonly results: readonly {
    readonly name: string;
    readonly about: string;
    readonly figures: readonly Figure[];
  }[];
}

/**
 * Rows of a table that sets a run against an earlier one: each figure that both have, then, and now over then.
 * Figures given as × are ratios within a run, and bear comparison where seconds do not.
 */
export function comparedRows(before: BenchRun, now: BenchRun): string[][] {
  const earlier = new Map(
    before.results.flatMap(({ name, figures }) =>
      figures.map((figure) => [`${name}: ${figure.name}`, figure] as const),
    ),
  );
  return now.results.flatMap(({ name, figures }) =>
    figures.flatMap((figure) => {
      const then = earlier.get(`${name}: ${figure.name}`);
      if (then === undefined || then.unit !== figure.unit) return [];
      const ratio = (figure.value / then.value).toFixed(2);
      return [[`${name}: ${figure.name}`, rounded(then.value), rounded(figure.value), figure.unit, ratio]];
    }),
  );
}

/** What differs between the machines and versions of two runs, in words. */
export function differences(before: BenchRun, now: BenchRun): string[] {
  const flat = ({ machine, versions }: BenchRun) => ({ ...machine, ...versions, loadBefore: undefined });
  const then: Record<string, unknown> = flat(before);
  return Object.entries(flat(now))
    .filter(([name, value]) => then[name] !== value)
    .map(([name, value]) => `${name}: ${then[name] ?? 'not noted'} before, ${value} now`);
}

/** A value with three figures or so. */
export function rounded(value: number): string {
  return value >= 100 ? value.toFixed(0) : value.toPrecision(3);
}
