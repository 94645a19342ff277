import type { Random } from '../random.ts';
import type { CallKind } from '../study/tables.ts';
import {
  beggingCall,
  briefBuzz,
  type CallShape,
  callLengthS,
  knock,
  placeCall,
  queenQuacking,
  queenTooting,
  shortHiss,
  workerPiping,
} from './call-sounds.ts';
import type { PlannedDance, SoundStore } from './dances.ts';
import { branch, poissonTimes } from './draws.ts';
import type { SimulationOptions } from './options.ts';
import { toUnitPower } from './sound.ts';

/**
 * A sound that is not dance sound, with the truth about it. A series of tooting or of quacking is one call, from
 * its first onset to its last offset. Knocks, brief buzzes and hisses are of kind `other`.
 */
export interface PlannedCall {
  readonly callId: string;
  readonly kind: CallKind;
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number | null;
  readonly snrDb: number;
}

interface Wish {
  readonly kind: CallKind;
  readonly shape: CallShape;
  readonly startS: number;
}

/** Plans every other sound of the hive: begging calls about the runs, and what happens at any time. */
export function planCalls(
  options: SimulationOptions,
  dances: readonly PlannedDance[],
  store: SoundStore,
  random: Random,
): PlannedCall[] {
  const wishes = [
    ...beggingAboutRuns(options, dances, branch(random)),
    ...beggingOutside(options, dances, branch(random)),
    ...atAnyTime(options, branch(random)),
  ];
  const levels = branch(random);
  const snrDb = options.callSnrDb ?? options.snrDb;
  return wishes
    .map((wish) => ({ wish, endS: wish.startS + callLengthS(wish.shape) }))
    .filter(({ wish, endS }) => wish.startS > 0.05 && endS < options.lengthS - 0.05)
    .sort((a, b) => a.wish.startS - b.wish.startS)
    .map(({ wish, endS }, index) => {
      const ownSnrDb = snrDb + options.callSnrSdDb * levels.normal();
      const group = store.groups.length;
      store.groups.push({ middleS: (wish.startS + endS) / 2, snrDb: ownSnrDb, reference: 'local' });
      store.sounds.push(...toUnitPower(placeCall(wish.shape, wish.startS, group)));
      return {
        callId: `c${String(index + 1).padStart(5, '0')}`,
        kind: wish.kind,
        startS: wish.startS,
        endS,
        carrierHz: wish.shape.carrierHz,
        snrDb: ownSnrDb,
      };
    });
}

function beggingAboutRuns(
  { calls }: SimulationOptions,
  dances: readonly PlannedDance[],
  random: Random,
): Wish[] {
  return dances.flatMap(({ trains }) =>
    trains.flatMap((train, index): Wish[] => {
      // Every chance is drawn from a source of its own, so that one call more shifts no other.
      const own = branch(random);
      const shapes = [beggingCall(own), beggingCall(own), beggingCall(own)] as const;
      const chances = [own.uniform(), own.uniform(), own.uniform()] as const;
      const places = [own.uniform(), own.uniform(), own.uniform()] as const;
      const wishes: Wish[] = [];
      if (chances[0] < calls.scale * calls.beggingDuringRun) {
        const roomS = Math.max(0, train.endS - train.startS - callLengthS(shapes[0]));
        wishes.push({ kind: 'begging', shape: shapes[0], startS: train.startS + places[0] * roomS });
      }
      if (chances[1] < calls.scale * calls.beggingAtRunEnd) {
        // From just overlapping the last pulse to just after it.
        wishes.push({ kind: 'begging', shape: shapes[1], startS: train.endS - 0.02 + 0.12 * places[1] });
      }
      const next = trains[index + 1];
      if (chances[2] < calls.scale * calls.beggingInReturn && next !== undefined) {
        const roomS = next.startS - train.endS - 0.2 - callLengthS(shapes[2]);
        const startS = train.endS + 0.1 + places[2] * roomS;
        if (roomS > 0) wishes.push({ kind: 'begging', shape: shapes[2], startS });
      }
      return wishes;
    }),
  );
}

function beggingOutside(
  { calls, lengthS }: SimulationOptions,
  dances: readonly PlannedDance[],
  random: Random,
): Wish[] {
  const spans = dances.map(({ trains }) => [trains[0]!.startS, trains[trains.length - 1]!.endS] as const);
  return poissonTimes(random, calls.scale * calls.beggingOutsidePerHour, lengthS)
    .filter((timeS) => spans.every(([startS, endS]) => timeS < startS - 0.5 || timeS > endS + 0.5))
    .map((startS) => ({ kind: 'begging', shape: beggingCall(random), startS }));
}

function atAnyTime({ calls, lengthS }: SimulationOptions, random: Random): Wish[] {
  const kinds: readonly [CallKind, number, (random: Random) => CallShape][] = [
    ['piping', calls.pipingPerHour, workerPiping],
    ['tooting', calls.tootingPerHour, queenTooting],
    ['quacking', calls.quackingPerHour, queenQuacking],
    ['other', calls.knocksPerHour, knock],
    ['other', calls.buzzesPerHour, briefBuzz],
    ['other', calls.hissesPerHour, shortHiss],
  ];
  return kinds.flatMap(([kind, perHour, shapeOf]) => {
    const own = branch(random);
    return poissonTimes(own, calls.scale * perHour, lengthS).map((startS) => ({
      kind,
      shape: shapeOf(own),
      startS,
    }));
  });
}
