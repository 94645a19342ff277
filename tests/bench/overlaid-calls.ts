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
  readonly runs: number;
  readonly lost: number;
  /** Share of runs cut or split: shorter than without the call by more than `CHANGED_S`. */
  readonly cut: number;
  readonly lengthened: number;
  readonly medianChangeS: number;
}

/** Half a beat. */
const CHANGED_S = 0.025;
/** A call against a run begins or ends this far from it, s. */
const APART_S = [0.01, 0.06] as const;

/**
 * Detects a simulated sound as it is, then with a begging call put to every run found, and compares the same runs.
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
  const chosen = plain.filter((run, k) => k % 2 === 0 && lengthS(run) > 0.3);
  const random = seededRandom(options.seed ?? 1);
  const amplitude = Math.sqrt(10 ** (callSnrDb / 10) * bandPower(samples, sound.sampleRateHz));
  const target = Float32Array.from(samples);
  for (const run of chosen) addCall(target, sound.sampleRateHz, run, place, amplitude, random);
  const after = (await detectSamples(target, sound.sampleRateHz)).trains;
  const changes = chosen.map((run) => changeOf(run, after));
  const known = changes.filter((change) => change !== null);
  return {
    runs: chosen.length,
    lost: changes.length - known.length,
    cut: known.filter((change) => change < -CHANGED_S).length,
    lengthened: known.filter((change) => change > CHANGED_S).length,
    medianChangeS: medianOf(known),
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

/** How much longer the run is now, s; null where no run shares half of it. */
function changeOf(run: TrainRow, found: readonly TrainRow[]): number | null {
  let best: TrainRow | null = null;
  let bestS = 0;
  for (const other of found) {
    const sharedS = Math.min(run.end_s, other.end_s) - Math.max(run.start_s, other.start_s);
    if (sharedS > bestS) {
      best = other;
      bestS = sharedS;
    }
  }
  return best === null || bestS < 0.5 * lengthS(run) ? null : lengthS(best) - lengthS(run);
}

const lengthS = (run: TrainRow) => run.end_s - run.start_s;

/** Mean power in 200 to 400 Hz. Dances fill little of it. */
function bandPower(samples: Float32Array, sampleRateHz: number): number {
  const filtered = bandFilter(sampleRateHz).push(samples);
  let sum = 0;
  for (let k = 0; k < filtered.length; k++) sum += filtered[k]! ** 2;
  return sum / filtered.length;
}
