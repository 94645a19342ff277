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
  const shortest = Math.max(1, Math.ceil(SHORTEST_DROP_OUT_S * sampleRateHz));
  let count = 0;
  let clipped = 0;
  let previous = Number.NaN;
  let zeros = 0; // exact zeros at the end of what was seen
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
  const takeZeros = (block: Float32Array) => {
    let from = 0; // all before it is settled
    while (from < block.length) {
      if (zeros === 0) {
        // No run of zeros that counts fits between two looks this far apart.
        let look = from + shortest - 1;
        while (look < block.length && block[look] !== 0) look += shortest;
        look = Math.min(look, block.length);
        let start = look;
        while (start > from && block[start - 1] === 0) start--;
        if (start > from) heard = true;
        from = look;
        zeros = look - start;
      }
      let end = from;
      while (end < block.length && block[end] === 0) end++;
      zeros += end - from;
      from = end;
      if (end < block.length) {
        heard = true;
        endZeros();
        from = end + 1;
      }
    }
  };
  return {
    take: (block) => {
      takeZeros(block);
      if (scaled) clipped += flatTops(block, previous);
      previous = block.at(-1) ?? previous;
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

/**
 * How many samples at full scale are equal to the one before them.
 *
 * @param previous sample before the block
 */
function flatTops(block: Float32Array, previous: number): number {
  let count = 0;
  // This looks at every sample there is, and so at nothing else.
  for (let k = 0; k < block.length; k++) {
    const sample = block[k]!;
    if (Math.abs(sample) <= FULL_SCALE) continue;
    if (sample === (k === 0 ? previous : block[k - 1]!)) count++;
  }
  return count;
}
