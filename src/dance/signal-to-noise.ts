import type { SegmentView } from './segment-view.ts';

const BAND_LOW_HZ = 200;
const BAND_HIGH_HZ = 400;
const STEP_HZ = 20;

type BandNoise = Pick<SegmentView, 'callNoisePowerAt' | 'sampleRateHz'>;

/**
 * In-band SNR of a sound: its mean power while it sounds over the noise power in 200 to 400 Hz, dB.
 *
 * A tone of power P that fills a Hann window of N samples shows there as P · (Σw)² / (2 Σw²) = P · N / 3 (worked
 * out); noise of level v (variance, were it white) has the power v · 200 Hz / (rate / 2) in the band.
 *
 * @param noise the floor that the sound's power was measured over
 * @param ratio the sound's power over that floor in the matched window
 */
export function bandSnrDb(
  noise: BandNoise & Pick<SegmentView, 'noisePowerAt' | 'windowLength'>,
  ratio: number,
  carrierHz: number,
  timeS: number,
): number {
  const noiseAtCarrier = noise.noisePowerAt(timeS, carrierHz);
  const bandNoise = bandNoisePower(noise, timeS);
  const soundPower = (Math.max(0.01, ratio - 1) * noiseAtCarrier * 3) / noise.windowLength;
  return 10 * Math.log10(soundPower / bandNoise);
}

/**
 * Power of the noise floor in 200 to 400 Hz at a moment, in the square of the samples' unit; of the floor that is held
 * down, for a long run lifts the other one.
 */
export function bandNoisePower(noise: BandNoise, timeS: number): number {
  let level = 0;
  let count = 0;
  for (let hz = BAND_LOW_HZ; hz <= BAND_HIGH_HZ; hz += STEP_HZ, count++)
    level += noise.callNoisePowerAt(timeS, hz);
  return ((level / count) * (BAND_HIGH_HZ - BAND_LOW_HZ)) / (noise.sampleRateHz / 2);
}
