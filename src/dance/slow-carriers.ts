import { heldDown } from '../signal/held-floor.ts';
import { keptRoom, type Room } from '../signal/kept-room.ts';
import { noiseFloor, overFloor } from '../signal/noise-floor.ts';
import { spectralFrames } from '../signal/spectral-frames.ts';
import type { CarrierRatios } from './pulse-candidates.ts';

/** About as long as a short call: a tone stands twice as far over the noise as in the window of a pulse. */
const WINDOW_S = 0.056;
const HOP_S = 0.008;

/** Where powers, and their ratios to the floor, stand. */
export interface SlowRoom {
  readonly power: Room<Float32Array>;
  readonly ratio: Room<Float32Array>;
}

/** Room for one segment at a time. */
export const keptSlowRoom = (): SlowRoom => ({
  power: keptRoom(Float32Array),
  ratio: keptRoom(Float32Array),
});

/**
 * Power over the noise floor in windows of 56 ms, 8 ms apart, in which calls are found that are faint in shorter ones.
 *
 * @param band frequencies, Hz, and how far the floor is held down, as in `heldDown`
 */
export function slowCarriers(
  samples: Float32Array,
  sampleRateHz: number,
  { lowHz, highHz, ...held }: { lowHz: number; highHz: number; reachS: number; factor: number },
  room: SlowRoom,
): CarrierRatios {
  const windowLength = 2 * Math.round((WINDOW_S * sampleRateHz) / 2) + 1;
  const transformLength = 2 ** Math.ceil(Math.log2(windowLength));
  const shape = { windowLength, transformLength, hopLength: Math.round(HOP_S * sampleRateHz) };
  const binWidthHz = sampleRateHz / transformLength;
  const firstBin = Math.floor(lowHz / binWidthHz);
  const lastBin = Math.min(transformLength / 2 - 1, Math.ceil(highHz / binWidthHz));
  const frames = spectralFrames(samples, sampleRateHz, shape, { firstBin, lastBin }, room.power);
  const floor = heldDown(noiseFloor(frames, firstBin, lastBin), { firstBin, lastBin, ...held });
  const carrierCount = lastBin - firstBin + 1;
  const into = room.ratio(frames.frameCount * carrierCount);
  return {
    ratio: overFloor(frames, floor, firstBin, lastBin, { into }),
    frameCount: frames.frameCount,
    carrierCount,
    firstCarrierHz: firstBin * binWidthHz,
    carrierStepHz: binWidthHz,
    hopS: frames.hopS,
  };
}
