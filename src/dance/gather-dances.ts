import { stepsOf } from '../signal/steps.ts';

/** What gathering needs to know of a train. Times are seconds from the recording's start. */
export interface GatheredTrain {
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number;
  readonly beatS: number;
}

/** Return phases last 0.6 to 4 s; beyond the longest, one missed run is allowed for. */
const SHORTEST_RETURN_S = 0.3;
const LONGEST_RETURN_S = 4;
const CARRIER_SPREAD_HZ = 6;
const BEAT_SPREAD = 0.08;
/** Usual return phase, before a dance has shown its own, and the spread of its logarithm within a dance. */
const USUAL_RETURN_S = 1.9;
const RETURN_SPREAD = 0.6;
/** What it costs to take a long gap for two return phases and a run unheard. */
const UNHEARD_COST = 2;
const DURATION_SPREAD = 0.6;
/** From this sum of squared misfits on a train begins a new dance. */
const LARGEST_COST = 15;
/** Spreads of carrier, ln beat and ln duration about a dance's own where these step from one dance to the next. */
const STEP_CARRIER_SPREAD_HZ = 4;
const STEP_BEAT_SPREAD = 0.05;
const STEP_DURATION_SPREAD = 0.25;
/** Least number of runs before and after a step, and its chi-square (3 degrees of freedom). */
const STEP_RUNS = 3;
const STEP_CHI_SQUARE = 20;

/**
 * Gathers trains into dances: each train follows the open dance whose last trains it fits best by carrier, beat,
 * duration and return phase, or begins a new one. A dancer's runs never overlap; two dancers' may. Where one bee's
 * dance follows another's at once, or the same bee's next, all this steps: there what was gathered is parted.
 *
 * @param trains in order of start
 * @returns for each train, the number of its dance, from 0 in order of first run
 */
export function gatherDances(trains: readonly GatheredTrain[]): number[] {
  const danceOf = partedAtSteps(trains, followedDances(trains));
  const numbers = new Map<number, number>();
  return danceOf.map((dance) => {
    if (!numbers.has(dance)) numbers.set(dance, numbers.size);
    return numbers.get(dance)!;
  });
}

/** Gives the runs after each step of a dance a number of their own. */
function partedAtSteps(trains: readonly GatheredTrain[], danceOf: readonly number[]): number[] {
  const parted = [...danceOf];
  const runsOf = new Map<number, number[]>();
  danceOf.forEach((dance, k) => {
    const runs = runsOf.get(dance);
    if (runs === undefined) runsOf.set(dance, [k]);
    else runs.push(k);
  });
  let next = runsOf.size;
  for (const runs of runsOf.values()) {
    const observations = runs.map((k) => ({ values: stepValues(trains[k]!), weight: 1 }));
    for (const at of stepsOf(observations, STEP_RUNS, STEP_CHI_SQUARE)) {
      for (const k of runs.slice(at)) parted[k] = next;
      next++;
    }
  }
  return parted;
}

/** Carrier, ln beat and ln duration in units of their spreads. */
const stepValues = ({ startS, endS, carrierHz, beatS }: GatheredTrain): number[] => [
  carrierHz / STEP_CARRIER_SPREAD_HZ,
  Math.log(beatS) / STEP_BEAT_SPREAD,
  Math.log(endS - startS) / STEP_DURATION_SPREAD,
];

/** The dance that each train follows, from 0 in order of first run. */
function followedDances(trains: readonly GatheredTrain[]): number[] {
  const danceOf: number[] = [];
  const open: { dance: number; members: GatheredTrain[] }[] = [];
  let danceCount = 0;
  for (const train of trains) {
    let best: (typeof open)[number] | null = null;
    let bestCost = LARGEST_COST;
    for (const candidate of open) {
      const cost = costOfJoining(candidate.members, train);
      if (cost < bestCost) {
        bestCost = cost;
        best = candidate;
      }
    }
    if (best === null) {
      best = { dance: danceCount++, members: [] };
      open.push(best);
    }
    best.members.push(train);
    danceOf.push(best.dance);
    for (let k = open.length - 1; k >= 0; k--) {
      if (train.startS - open[k]!.members.at(-1)!.endS > 4 * LONGEST_RETURN_S) open.splice(k, 1);
    }
  }
  return danceOf;
}

/** Squared misfits in units of their spreads, summed; infinite where the train cannot follow. */
function costOfJoining(members: readonly GatheredTrain[], train: GatheredTrain): number {
  const last = members.at(-1)!;
  const returnS = train.startS - last.endS;
  const recent = members.slice(-4);
  const mean = (pick: (member: GatheredTrain) => number) =>
    recent.reduce((sum, member) => sum + pick(member), 0) / recent.length;
  const meanDurationS = mean((member) => member.endS - member.startS);
  const longestS = 2 * LONGEST_RETURN_S + meanDurationS;
  if (returnS < SHORTEST_RETURN_S || returnS > longestS) return Number.POSITIVE_INFINITY;
  const misfits = [
    (train.carrierHz - mean((member) => member.carrierHz)) / CARRIER_SPREAD_HZ,
    Math.log(train.beatS / mean((member) => member.beatS)) / BEAT_SPREAD,
    Math.log((train.endS - train.startS) / meanDurationS) / DURATION_SPREAD,
  ];
  return (
    misfits.reduce((sum, misfit) => sum + misfit * misfit, 0) +
    returnCost(returnS, ownReturnS(recent), meanDurationS)
  );
}

/** Mean return phase of a dance's recent runs, drawn towards the usual one while there are few. */
function ownReturnS(recent: readonly GatheredTrain[]): number {
  const returns = recent
    .slice(1)
    .map((member, k) => member.startS - recent[k]!.endS)
    .filter((returnS) => returnS <= LONGEST_RETURN_S);
  return (USUAL_RETURN_S + returns.reduce((sum, returnS) => sum + returnS, 0)) / (1 + returns.length);
}

/** Squared misfit of a gap, as one return phase or as two with a run unheard between them. */
function returnCost(gapS: number, returnS: number, durationS: number): number {
  const once = Math.log(gapS / returnS) / RETURN_SPREAD;
  const twice = Math.log(gapS / (2 * returnS + durationS)) / RETURN_SPREAD;
  return Math.min(once * once, twice * twice + UNHEARD_COST);
}
