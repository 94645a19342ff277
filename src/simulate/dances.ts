import type { Random } from '../random.ts';
import { curveDurationS, type DurationCurve, durationSdS, meanReturnS } from './curve.ts';
import {
  branch,
  lognormalWithin,
  normalWithin,
  oneOf,
  poissonTimes,
  shuffled,
  skewedScatter,
} from './draws.ts';
import type { Bee, SimulationOptions, Treatment } from './options.ts';
import type { Sound, SoundGroup } from './sound.ts';
import { type PlannedTrain, planTrain } from './train.ts';

/** One dance, with the truth about it. */
export interface PlannedDance {
  readonly danceId: string;
  readonly beeId: string;
  /** null for a dance to a place that is no feeder. */
  readonly feederId: string | null;
  readonly distanceM: number;
  readonly treatment: string | null;
  readonly carrierHz: number;
  /** Mean run duration the dance scatters about, s. */
  readonly expectedDurationS: number;
  readonly trains: readonly PlannedTrain[];
}

/** Where planning collects sounds and their groups. */
export interface SoundStore {
  readonly sounds: Sound[];
  readonly groups: SoundGroup[];
}

interface Errand {
  readonly bee: Bee;
  readonly carrierHz: number;
  readonly startS: number;
  readonly feederId: string | null;
  readonly distanceM: number;
  readonly treatment: Treatment | null;
}

/** Silence kept at the ends of a recording, s, so that no run is cut. */
const MARGIN_S = 0.3;

/** Carriers of a dance may stray this far from the bee's own, and those of a run from the dance's. */
const DANCE_DRIFT_HZ = 4;
const RUN_DRIFT_HZ = 2.5;

/**
 * Plans every dance of a recording: when, by whom, to where, and each run's pulses. Dances come at random
 * (Poisson); one that would exceed the number of bees that may dance at once waits until another is over. A
 * recording that could hold a dance holds at least one, unless none are wanted.
 */
export function planDances(
  options: SimulationOptions,
  bees: readonly Bee[],
  curve: DurationCurve,
  store: SoundStore,
  random: Random,
): PlannedDance[] {
  const arrivals = poissonTimes(random, options.dancesPerHour, options.lengthS);
  if (arrivals.length === 0 && options.dancesPerHour > 0) {
    arrivals.push(random.uniform() * Math.max(0, options.lengthS / 2));
  }
  const dances: (PlannedDance & { endS: number })[] = [];
  let earliestS = MARGIN_S;
  for (const arrivalS of arrivals) {
    const own = branch(random);
    let startS = Math.max(arrivalS, earliestS);
    let chosen: { bee: Bee; carrierHz: number } | null = null;
    for (;;) {
      const active = dances.filter((dance) => dance.endS > startS);
      chosen = active.length < options.maxConcurrent ? chooseBee(options, bees, active, own) : null;
      if (chosen !== null || active.length === 0) break;
      startS = Math.min(...active.map((dance) => dance.endS)) + own.between(0.5, 3);
    }
    if (chosen === null || startS > options.lengthS - MARGIN_S) continue;
    earliestS = startS;
    const errand = { ...chosen, startS, ...chooseSource(options, startS, own) };
    const danceId = `d${String(dances.length + 1).padStart(4, '0')}`;
    const dance = planDance(danceId, errand, options, curve, store, own);
    if (dance.trains.length === 0) continue;
    dances.push({ ...dance, endS: dance.trains[dance.trains.length - 1]!.endS });
  }
  return numberTrains(dances.map(({ endS: _, ...dance }) => dance));
}

function chooseBee(
  options: SimulationOptions,
  bees: readonly Bee[],
  active: readonly PlannedDance[],
  random: Random,
): { bee: Bee; carrierHz: number } | null {
  // Runs stray from their dance's carrier on both sides.
  const gapHz = options.minCarrierGapHz === 0 ? 0 : options.minCarrierGapHz + 2 * RUN_DRIFT_HZ;
  for (const bee of shuffled(random, bees)) {
    const carrierHz = bee.carrierHz + normalWithin(random, 0, 2, -DANCE_DRIFT_HZ, DANCE_DRIFT_HZ);
    const isFree = active.every(
      (dance) => dance.beeId !== bee.beeId && Math.abs(dance.carrierHz - carrierHz) >= gapHz,
    );
    if (isFree) return { bee, carrierHz };
  }
  return null;
}

function chooseSource(
  options: SimulationOptions,
  startS: number,
  random: Random,
): Pick<Errand, 'feederId' | 'distanceM' | 'treatment'> {
  const { feeders, feederOrder, lengthS, unknownShare, unknownRangeM } = options;
  const open = Math.min(feeders.length - 1, Math.floor((startS / lengthS) * feeders.length));
  const mixed = oneOf(random, feeders);
  const feeder = feederOrder === 'stepwise' ? feeders[open]! : mixed;
  const isUnknown = random.uniform() < unknownShare;
  const unknownM = random.between(unknownRangeM[0], unknownRangeM[1]);
  let place = random.uniform();
  const treatment = options.treatments.find((candidate) => {
    place -= candidate.share;
    return place < 0;
  });
  return {
    feederId: isUnknown ? null : feeder.feederId,
    distanceM: isUnknown ? Math.round(unknownM) : feeder.distanceM,
    treatment: treatment ?? null,
  };
}

function planDance(
  danceId: string,
  errand: Errand,
  options: SimulationOptions,
  curve: DurationCurve,
  store: SoundStore,
  random: Random,
): PlannedDance {
  const { bee, distanceM, treatment } = errand;
  const circuits = Math.round(lognormalWithin(random, options.medianCircuits, 0.55, 3, 40));
  const expectedDurationS = expectedDuration(errand, options, curve, random);
  const returnS = meanReturnS(distanceM) * bee.returnFactor * (treatment?.returnFactor ?? 1);
  const danceSnrDb = options.snrDb + options.snrDanceSdDb * random.normal();
  const offsetsDb = Array.from({ length: circuits }, () => options.snrRunSdDb * random.normal());
  const firstGroup = store.groups.length;
  const runs: Omit<PlannedTrain, 'snrDb'>[] = [];
  let startS = errand.startS;
  for (let run = 0; run < circuits; run++) {
    const own = branch(random);
    const isEdge = run === 0 || run === circuits - 1;
    const targetS = targetDurationS(expectedDurationS, distanceM, isEdge, options, own);
    const train = planTrain(
      {
        bee,
        startS,
        targetS,
        shortestS: options.shortestRunS,
        carrierHz: errand.carrierHz + normalWithin(own, 0, 1.5, -RUN_DRIFT_HZ, RUN_DRIFT_HZ),
        pulseSdDb: options.snrPulseSdDb,
        group: firstGroup + run,
      },
      own,
    );
    const endS = train.pulses[train.pulses.length - 1]!.offsetS;
    if (endS > options.lengthS - MARGIN_S) break;
    store.sounds.push(...train.sounds);
    const { pulses, pulseRateHz, carrierHz } = train;
    runs.push({ trainId: '', danceId, startS, endS, pulses, pulseRateHz, carrierHz, targetS });
    startS = endS + lognormalWithin(own, returnS, 0.22, 0.6, 4);
  }
  // Only the runs that are there count, so that a dance cut short by the recording's end keeps its level too.
  const levelsDb = centred(offsetsDb.slice(0, runs.length));
  const trains = runs.map((run, index) => ({ ...run, snrDb: danceSnrDb + levelsDb[index]! }));
  for (const { startS: fromS, endS, snrDb } of trains) {
    store.groups.push({ middleS: (fromS + endS) / 2, snrDb, reference: 'local' });
  }
  return {
    danceId,
    beeId: bee.beeId,
    feederId: errand.feederId,
    distanceM,
    treatment: treatment?.treatment ?? null,
    carrierHz: errand.carrierHz,
    expectedDurationS,
    trains,
  };
}

/** How long one run shall last, s: the first and the last of a dance scatter more. */
function targetDurationS(
  expectedDurationS: number,
  distanceM: number,
  isEdge: boolean,
  options: SimulationOptions,
  random: Random,
): number {
  const sdS = options.runScatterScale * durationSdS(distanceM) * (isEdge ? options.edgeRunScatterFactor : 1);
  const scattered = expectedDurationS + skewedScatter(random, sdS, options.runScatterShape);
  return Math.max(options.shortestRunS, scattered);
}

/** The duration a dance's runs scatter about: the colony's, the bee's, the dance's own, and the treatment's part. */
function expectedDuration(
  { bee, distanceM, treatment }: Errand,
  options: SimulationOptions,
  curve: DurationCurve,
  random: Random,
): number {
  const untreatedS =
    curveDurationS(curve, distanceM) + bee.durationOffsetS + options.danceSdS * random.normal();
  return untreatedS * (treatment?.durationFactor ?? 1) + (treatment?.durationOffsetS ?? 0);
}

/** Train numbers follow the time of their start across all dances. */
function numberTrains(dances: readonly PlannedDance[]): PlannedDance[] {
  const inOrder = dances.flatMap((dance) => dance.trains).sort((a, b) => a.startS - b.startS);
  const numbers = new Map(inOrder.map((train, index) => [train, index + 1]));
  return dances.map((dance) => ({
    ...dance,
    trains: dance.trains.map((train) => ({
      ...train,
      trainId: `t${String(numbers.get(train)).padStart(5, '0')}`,
    })),
  }));
}

function centred(values: readonly number[]): number[] {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return values.map((value) => value - mean);
}
