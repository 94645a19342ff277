/**
 * Which runs of a dance are used. The first and the last run vary more than those between, any four
 * consecutive of which do as well as all of them: Couvillon et al. 2012, Biology Open 1:467.
 * `inner`: all but the first and the last; `first-four-inner`: the first four of those; `all`: every run.
 * A dance of fewer than four runs has too few to spare and gives all it has.
 */
export const runChoices = ['inner', 'first-four-inner', 'all'] as const;
/** One of these choices. */
export type RunChoice = (typeof runChoices)[number];

/** The runs of a dance, in the order danced, that a choice uses. */
export function chooseRuns<T>(runs: readonly T[], choice: RunChoice): readonly T[] {
  if (choice === 'all' || runs.length < 4) return runs;
  const inner = runs.slice(1, -1);
  return choice === 'inner' ? inner : inner.slice(0, 4);
}

/** Mean time (s) of the used runs of a dance, how many they were, and their squared deviations from it (s²). */
export interface RunSummary {
  readonly meanS: number;
  readonly usedRuns: number;
  readonly squaredDeviations: number;
}

/**
 * Sums up the used runs of a dance; runs without a time (null) keep their place in the order but give nothing.
 *
 * @param timesS one time in seconds for each run, in the order danced
 * @returns undefined when no used run has a time
 */
export function summariseRuns(timesS: readonly (number | null)[], choice: RunChoice): RunSummary | undefined {
  const used = chooseRuns(timesS, choice).filter((time) => time !== null);
  if (used.length === 0) return undefined;
  const meanS = used.reduce((sum, time) => sum + time, 0) / used.length;
  const squaredDeviations = used.reduce((sum, time) => sum + (time - meanS) ** 2, 0);
  return { meanS, usedRuns: used.length, squaredDeviations };
}
