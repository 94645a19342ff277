import { greatest } from 'd3-array';
import { type Random, seededRandom } from '../../src/random.ts';
import { bandFilter } from '../../src/signal/band-filter.ts';
import { medianOf } from '../../src/signal/quantile.ts';
import { beggingCall, callLengthS, placeCall } from '../../src/simulate/call-sounds.ts';
import { type PartialSimulationOptions, simulateSound } from '../../src/simulate/index.ts';
import { addSound, toUnitPower } from '../../src/simulate/sound.ts';
import type { TrainRow } from '../../src/study/tables.ts';
import { detectSamples } from './accuracy-cases.ts';

/**
 * Where a begging call is put: amid a run; begun as the run ends; ended as the run begins; or, to see what any call
 * changes by the noise floor and by the dance's other runs, half a second after the run.
 */
export const PLACES = ['inside', 'after', 'before', 'apart'] as const;
export type Place = (typeof PLACES)[number];

/** What begging calls did to the runs they were laid on or against. */
export interface Overlaid {
  /** True runs that are found without the call. */
  readonly runs: number;
  /** Of these, those of which no train holds half any more. */
  readonly lost: number;
  /** Those that are now shorter by more than `CHANGED_S` than they are, and than they were found before. */
  readonly cut: number;
  /** Those that are now so much longer than they are, and than they were found before. */
  readonly lengthened: number;
  /** Median over the runs of how much longer each is found than without the call. */
  readonly medianChangeS: number;
}

/** Half a beat. */
const CHANGED_S = 0.025;
/** A call against a run begins or ends this far from it, s. */
const APART_S = [0.01, 0.06] as const;

/**
 * Detects a simulated sound as it is, then with a begging call put to every second true run, and compares the same
 * runs. A call that keeps a run from being drawn out into noise beyond its end does no harm: what counts is what moves
 * away from the truth.
 *
 * @param callSnrDb level of the calls over the sound in 200 to 400 Hz, dB
 */
export async function overlaid(
  options: PartialSimulationOptions,
  place: Place,
  callSnrDb: number,
): Promise<Overlaid> {
  const sound = await simulateSound({ ...options, calls: { scale: 0 } }, 'simulated.wav');
  const samples = sound.channels[0]!;
  const plain = (await detectSamples(samples, sound.sampleRateHz)).trains;
  // Every second run, so that calls against one do not reach the next.
  const chosen = sound.truth.trains.filter((run, k) => k % 2 === 0 && lengthS(run) > 0.3);
  const random = seededRandom(options.seed ?? 1);
  const amplitude = Math.sqrt(10 ** (callSnrDb / 10) * bandPower(samples, sound.sampleRateHz));
  const target = Float32Array.from(samples);
  for (const run of chosen) addCall(target, sound.sampleRateHz, run, place, amplitude, random);
  const after = (await detectSamples(target, sound.sampleRateHz)).trains;
  const compared = chosen.flatMap((run) => {
    const before = foundOf(run, plain);
    return before === null ? [] : [{ run, before, now: foundOf(run, after) }];
  });
  const kept = compared.flatMap(({ run, before, now }) =>
    now === null ? [] : [{ trueS: lengthS(run), beforeS: lengthS(before), nowS: lengthS(now) }],
  );
  return {
    runs: compared.length,
    lost: compared.length - kept.length,
    cut: kept.filter(({ trueS, beforeS, nowS }) => nowS < Math.min(trueS, beforeS) - CHANGED_S).length,
    lengthened: kept.filter(({ trueS, beforeS, nowS }) => nowS > Math.max(trueS, beforeS) + CHANGED_S).length,
    medianChangeS: medianOf(kept.map(({ beforeS, nowS }) => nowS - beforeS)),
  };
}

function addCall(
  target: Float32Array,
  sampleRateHz: number,
  run: TrainRow,
  place: Place,
  amplitude: number,
  random: Random,
): void {
  const shape = beggingCall(random);
  const callS = callLengthS(shape);
  const apartS = random.between(...APART_S);
  const startS = {
    inside: random.between(run.start_s, Math.max(run.start_s, run.end_s - callS)),
    after: run.end_s + apartS,
    before: run.start_s - apartS - callS,
    apart: run.end_s + 0.5 + apartS,
  }[place];
  for (const sound of toUnitPower(placeCall(shape, startS, 0)))
    addSound(sound, target, 0, sampleRateHz, amplitude);
}

/** The train that holds most of a run, half of it at least. */
function foundOf(run: TrainRow, found: readonly TrainRow[]): TrainRow | null {
  const sharedS = (train: TrainRow) =>
    Math.min(run.end_s, train.end_s) - Math.max(run.start_s, train.start_s);
  const best = greatest(found, sharedS);
  return best === undefined || sharedS(best) < 0.5 * lengthS(run) ? null : best;
}

const lengthS = (run: TrainRow) => run.end_s - run.start_s;

/** Mean power in 200 to 400 Hz. Dances fill little of it. */
function bandPower(samples: Float32Array, sampleRateHz: number): number {
  const filtered = bandFilter(sampleRateHz).push(samples);
  let sum = 0;
  for (let k = 0; k < filtered.length; k++) sum += filtered[k]! ** 2;
  return sum / filtered.length;
}
