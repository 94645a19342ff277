/** What can be told of a microphone and recorder from the samples themselves. */
export interface SoundCheck {
  /** Whether any sample differs from zero. */
  readonly heard: boolean;
  /** Share of samples in flat tops at full scale, 0 to 1. */
  readonly clippedShare: number;
  /** Stretches of at least 5 ms of exact zeros, and how long they last together, s. */
  readonly dropOutCount: number;
  readonly dropOutS: number;
}

/** Takes blocks as they pass and tells at the end what it saw. */
export interface SoundChecker {
  readonly take: (block: Float32Array) => void;
  readonly result: () => SoundCheck;
}

const FULL_SCALE = 0.999;
const SHORTEST_DROP_OUT_S = 0.005;

/**
 * Counts clipping (two or more equal samples in a row at full scale) and drop-outs (runs of exact zeros, as
 * loggers leave them) in one channel.
 *
 * @param scaled whether ±1 is full scale, as for integer samples; float samples have none, and never clip
 */
export function soundChecker(sampleRateHz: number, scaled: boolean): SoundChecker {
  const shortest = SHORTEST_DROP_OUT_S * sampleRateHz;
  let count = 0;
  let clipped = 0;
  let previous = Number.NaN;
  let zeros = 0;
  let dropOutCount = 0;
  let dropOutSamples = 0;
  let heard = false;
  const endZeros = () => {
    if (zeros >= shortest) {
      dropOutCount++;
      dropOutSamples += zeros;
    }
    zeros = 0;
  };
  return {
    take: (block) => {
      // Counters are kept in locals within a block: this looks at every sample there is.
      let last = previous;
      let tops = 0;
      for (let k = 0; k < block.length; k++) {
        const sample = block[k]!;
        if (sample === last) {
          if (sample === 0) zeros++;
          else if (sample > FULL_SCALE || sample < -FULL_SCALE) tops++;
        } else {
          if (zeros > 0) endZeros();
          if (sample === 0) zeros = 1;
          else heard = true;
          last = sample;
        }
      }
      previous = last;
      if (scaled) clipped += tops;
      count += block.length;
    },
    result: () => {
      endZeros();
      return {
        heard,
        clippedShare: count === 0 ? 0 : clipped / count,
        dropOutCount,
        dropOutS: dropOutSamples / sampleRateHz,
      };
    },
  };
}
