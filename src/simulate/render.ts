import { bisector } from 'd3-array';
import { seededRandom } from '../random.ts';
import { type BandPower, measureBandPower } from './band-power.ts';
import { addSteady, applyDisturbances, type SteadyDisturbance, steadyDisturbances } from './disturbances.ts';
import { drawSeed } from './draws.ts';
import { fileBackground } from './file-background.ts';
import type { HivePlan } from './plan.ts';
import type { SampleSource } from './sample-source.ts';
import { addSound, type Sound } from './sound.ts';
import { plainNoise, syntheticBackground } from './synthetic-background.ts';

/** Block length when rendering a whole recording. */
export const BLOCK_SAMPLES = 65_536;

/** The background is read from this far on, so that microphones that hear later find sound at their start. */
const LEAD_S = 0.5;

/** A plan made ready to be rendered: the background opened and measured, the level of every sound settled. */
export interface Rendering {
  readonly plan: HivePlan;
  readonly sampleRateHz: number;
  readonly sampleCount: number;
  readonly background: SampleSource;
  readonly bandPower: BandPower;
  /** Amplitude factor of each of the plan's groups. */
  readonly groupGains: Float64Array;
  readonly microphoneNoise: readonly (SampleSource | null)[];
  readonly steady: readonly SteadyDisturbance[];
  /** Gain that clips the wanted share of samples; null for no clipping. */
  readonly drive: number | null;
}

/**
 * Opens the background, measures its power in 200 to 400 Hz along the recording, and settles from it the level
 * of every sound. Takes about as long as half the rendering.
 *
 * @param onMeasured told the share of the background that has been measured; what it throws ends the work
 * @throws InputError when a background file cannot be used
 */
export async function prepareRendering(
  plan: HivePlan,
  onMeasured: (share: number) => void = () => {},
): Promise<Rendering> {
  const { options } = plan;
  const { sampleRateHz } = options;
  const sampleCount = Math.round(options.lengthS * sampleRateHz);
  const background = await openBackground(plan);
  const onBlock = (measured: number) => onMeasured(measured / sampleCount);
  const bandPower = await measureBandPower(background, sampleCount, onBlock).catch(async (error: unknown) => {
    await background.close();
    throw error;
  });
  const { median } = bandPower;
  const ownNoiseDb = options.microphones[0]!.noiseDb;
  const ownNoise = ownNoiseDb === null ? 0 : median * 10 ** (ownNoiseDb / 10);
  const groupGains = Float64Array.from(plan.groups, ({ middleS, snrDb, reference }) =>
    Math.sqrt((reference === 'local' ? bandPower.near(middleS) + ownNoise : median) * 10 ** (snrDb / 10)),
  );
  const random = seededRandom(plan.backgroundSeed + 1);
  const steady = steadyDisturbances(options.disturbances, median, sampleRateHz, random);
  const noiseRandom = seededRandom(plan.backgroundSeed + 2);
  const microphoneNoise = options.microphones.map(({ noiseDb }) => {
    const seed = drawSeed(noiseRandom);
    return noiseDb === null ? null : plainNoise(seed, 0.5, sampleRateHz);
  });
  const ready = {
    plan,
    sampleRateHz,
    sampleCount,
    background,
    bandPower,
    groupGains,
    microphoneNoise,
    steady,
  };
  const clipping = options.disturbances.find((disturbance) => disturbance.kind === 'clipping');
  const drive =
    clipping === undefined ? null : await clippingDrive({ ...ready, drive: null }, clipping.share);
  return { ...ready, drive };
}

/** Renders samples `firstSample` to `firstSample + count` of every microphone; the same whatever the blocks. */
export async function renderBlock(
  rendering: Rendering,
  firstSample: number,
  count: number,
): Promise<Float32Array[]> {
  const { plan, sampleRateHz, drive } = rendering;
  const { disturbances, lengthS } = plan.options;
  const channels: Float32Array[] = [];
  for (let channel = 0; channel < plan.options.microphones.length; channel++) {
    const samples = await heard(rendering, channel, firstSample, count);
    applyDisturbances(disturbances, samples, firstSample, sampleRateHz, lengthS, drive, plan.dropouts);
    channels.push(samples);
  }
  return channels;
}

/** Renders the sounds alone, without background, as the first microphone would hear them at a gain of 1. */
export function renderSounds(
  rendering: Rendering,
  firstSample: number,
  count: number,
  wanted: (sound: Sound) => boolean = () => true,
): Float32Array {
  const target = new Float32Array(count);
  addSounds(rendering, target, firstSample, 0, wanted);
  return target;
}

/** The background alone, as the first microphone would hear it at a gain of 1. */
export async function renderBackground(
  rendering: Rendering,
  firstSample: number,
  count: number,
): Promise<Float32Array> {
  const target = new Float32Array(count);
  await rendering.background.read(firstSample, target);
  return target;
}

async function openBackground({ options, backgroundSeed }: HivePlan): Promise<SampleSource> {
  const { background, sampleRateHz, lengthS, crossFadeS } = options;
  const lead = Math.round(LEAD_S * sampleRateHz);
  const source =
    background.kind === 'synthetic'
      ? syntheticBackground(backgroundSeed, background.levelDb, sampleRateHz)
      : await fileBackground(background.files, backgroundSeed, crossFadeS, lengthS + LEAD_S, sampleRateHz);
  return { ...source, read: (firstSample, target) => source.read(firstSample + lead, target) };
}

async function heard(
  rendering: Rendering,
  channel: number,
  firstSample: number,
  count: number,
): Promise<Float32Array> {
  const { plan, sampleRateHz, background, bandPower, microphoneNoise, steady } = rendering;
  const { gainDb, delayS, noiseDb } = plan.options.microphones[channel]!;
  const samples = new Float32Array(count);
  await background.read(firstSample - Math.round(delayS * sampleRateHz), samples);
  addSounds(rendering, samples, firstSample, delayS);
  await addSteady(steady, samples, firstSample, sampleRateHz);
  const noise = microphoneNoise[channel] ?? null;
  if (noise !== null && noiseDb !== null) {
    const own = new Float32Array(count);
    await noise.read(firstSample, own);
    const factor = Math.sqrt(bandPower.median * 10 ** (noiseDb / 10));
    for (let index = 0; index < count; index++) samples[index]! += factor * own[index]!;
  }
  if (gainDb !== 0) {
    const gain = 10 ** (gainDb / 20);
    for (let index = 0; index < count; index++) samples[index]! *= gain;
  }
  return samples;
}

function addSounds(
  { plan, sampleRateHz, groupGains }: Rendering,
  target: Float32Array,
  firstSample: number,
  delayS: number,
  wanted: (sound: Sound) => boolean = () => true,
): void {
  const fromS = firstSample / sampleRateHz - delayS - plan.longestSoundS;
  const toS = (firstSample + target.length) / sampleRateHz - delayS;
  for (let index = firstFrom(plan.sounds, fromS); index < plan.sounds.length; index++) {
    const sound = plan.sounds[index]!;
    if (sound.startS > toS) break;
    if (wanted(sound)) {
      addSound(sound, target, firstSample, sampleRateHz, groupGains[sound.group]!, delayS);
    }
  }
}

/** Index of the first sound that starts at or after a time. */
const firstFrom = bisector((sound: Sound) => sound.startS).left;

/** The gain at which the wanted share of the first microphone's samples lies beyond full scale. */
async function clippingDrive(rendering: Rendering, share: number): Promise<number> {
  // Counts by hundredths of a decibel, from −200 to +100 dB of full scale.
  const counts = new Float64Array(30_000);
  const undropped = { ...rendering, plan: { ...rendering.plan, dropouts: [] } };
  for (let first = 0; first < rendering.sampleCount; first += BLOCK_SAMPLES) {
    const count = Math.min(BLOCK_SAMPLES, rendering.sampleCount - first);
    const [samples] = await renderBlock(undropped, first, count);
    for (const sample of samples!) {
      const levelDb = 20 * Math.log10(Math.abs(sample) + 1e-10);
      counts[Math.min(counts.length - 1, Math.max(0, Math.floor((levelDb + 200) * 100)))]! += 1;
    }
  }
  let beyond = 0;
  let level = counts.length;
  while (level > 0 && beyond < share * rendering.sampleCount) beyond += counts[--level]!;
  return 10 ** (-(level / 100 - 200) / 20);
}
