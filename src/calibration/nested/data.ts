/** A dance as the likelihood sees it: the runs of a dance share one distance, so these figures say it all. */
export interface NestedDance {
  /** null: not marked, taken as a bee of her own. */
  readonly beeId: string | null;
  readonly distanceM: number;
  /** Mean of the used runs (s). */
  readonly meanS: number;
  readonly usedRuns: number;
  /** Sum of squared deviations of the used runs from their mean (s²). */
  readonly squaredDeviations: number;
}

/** Dances ordered by bee, in typed arrays of one entry per dance. */
export interface NestedData {
  readonly dances: number;
  /** Number of all used runs. */
  readonly runs: number;
  /** Bee b has the dances from beeStart[b] to beeStart[b + 1] − 1. */
  readonly beeStart: Int32Array;
  /** Distance over the farthest feeder's. */
  readonly reach: Float64Array;
  readonly mean: Float64Array;
  readonly count: Float64Array;
  readonly squares: Float64Array;
  /** Place of each dance in the list it came from. */
  readonly order: Int32Array;
  readonly farthestM: number;
  /** Distinct reaches, rising. */
  readonly reaches: readonly number[];
  /** Place of each dance's reach in `reaches`. */
  readonly feeder: Int32Array;
}

/**
 * Gathers dances by bee.
 *
 * @param dances any order; the order of bees is that of their first dances
 */
export function nestedData(dances: readonly NestedDance[]): NestedData {
  const farthestM = dances.reduce((most, dance) => Math.max(most, dance.distanceM), 0);
  const byBee = new Map<string | number, number[]>();
  dances.forEach(({ beeId }, index) => {
    const key = beeId ?? index;
    const own = byBee.get(key);
    if (own === undefined) byBee.set(key, [index]);
    else own.push(index);
  });
  const order = Int32Array.from([...byBee.values()].flat());
  const beeStart = new Int32Array(byBee.size + 1);
  [...byBee.values()].forEach((own, bee) => {
    beeStart[bee + 1] = beeStart[bee] + own.length;
  });
  const gather = (of: (dance: NestedDance) => number) =>
    Float64Array.from(order, (index) => of(dances[index]));
  const reach = gather((dance) => dance.distanceM / farthestM);
  const reaches = [...new Set(reach)].sort((left, right) => left - right);
  return {
    dances: dances.length,
    runs: dances.reduce((sum, dance) => sum + dance.usedRuns, 0),
    beeStart,
    reach,
    mean: gather((dance) => dance.meanS),
    count: gather((dance) => dance.usedRuns),
    squares: gather((dance) => dance.squaredDeviations),
    order,
    farthestM,
    reaches,
    feeder: Int32Array.from(reach, (value) => reaches.indexOf(value)),
  };
}

/** Which variance components the data can tell apart. The others are left at nothing. */
export interface Components {
  readonly bee: boolean;
  readonly dance: boolean;
  /** Whether the runs' spread may differ between the nearest and the farthest feeder. */
  readonly growth: boolean;
}

/** What these dances can tell: bees need several dances, dances several runs, growth two feeders with those. */
export function identifiable(data: NestedData): Components {
  let repeatedBees = 0;
  const bees = data.beeStart.length - 1;
  for (let bee = 0; bee < bees; bee++) {
    if (data.beeStart[bee + 1] - data.beeStart[bee] > 1) repeatedBees++;
  }
  const spare = new Map<number, number>();
  for (let j = 0; j < data.dances; j++) {
    spare.set(data.reach[j], (spare.get(data.reach[j]) ?? 0) + data.count[j] - 1);
  }
  const repeated = [...spare.values()].reduce((sum, count) => sum + count, 0) > 0;
  return {
    bee: bees > 1 && repeatedBees > 0,
    dance: repeated,
    growth: repeated && [...spare.values()].filter((count) => count >= 4).length >= 2,
  };
}
