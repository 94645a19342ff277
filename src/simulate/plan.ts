import type { Random } from '../random.ts';
import { planBees } from './bees.ts';
import { type PlannedCall, planCalls } from './calls.ts';
import { type DurationCurve, settleCurve } from './curve.ts';
import { type PlannedDance, planDances, type SoundStore } from './dances.ts';
import { planDisturbances } from './disturbance-plan.ts';
import { branch, drawSeed } from './draws.ts';
import { envelopeLengthS } from './envelope.ts';
import type { Bee, SimulationOptions } from './options.ts';
import type { Sound, SoundGroup } from './sound.ts';

/** Everything that happens in a simulated recording, settled before a single sample is made. */
export interface HivePlan {
  readonly options: SimulationOptions;
  readonly curve: DurationCurve;
  readonly bees: readonly Bee[];
  /** In order of their start. */
  readonly dances: readonly PlannedDance[];
  readonly calls: readonly PlannedCall[];
  /** Every sound to be laid on the background, in order of its start. */
  readonly sounds: readonly Sound[];
  readonly groups: readonly SoundGroup[];
  readonly longestSoundS: number;
  /** Stretches of zeros, [from, to) in s. */
  readonly dropouts: readonly (readonly [number, number])[];
  readonly backgroundSeed: number;
}

/**
 * Draws the events of a recording: bees, dances, runs, pulses, calls, disturbances. Depends on the options and the
 * random source alone; not on the sample rate, the encoding, the microphones or the background's files.
 */
export function planHive(options: SimulationOptions, random: Random): HivePlan {
  const sources = {
    curve: branch(random),
    bees: branch(random),
    dances: branch(random),
    calls: branch(random),
    disturbances: branch(random),
  };
  const backgroundSeed = drawSeed(random);
  const store: SoundStore = { sounds: [], groups: [] };
  const curve = settleCurve(options.curve, sources.curve);
  const bees =
    typeof options.bees === 'number' ? planBees(options.bees, options.beeSdS, sources.bees) : options.bees;
  const dances = planDances(options, bees, curve, store, sources.dances);
  const calls = planCalls(options, dances, store, sources.calls);
  const dropouts = planDisturbances(options, store, sources.disturbances);
  const sounds = store.sounds.sort((a, b) => a.startS - b.startS);
  return {
    options,
    curve,
    bees,
    dances,
    calls,
    sounds,
    groups: store.groups,
    longestSoundS: sounds.reduce((longest, { envelope }) => Math.max(longest, envelopeLengthS(envelope)), 0),
    dropouts,
    backgroundSeed,
  };
}
