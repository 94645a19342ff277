import { lowpassTaps } from './lowpass.ts';

/** A streaming stage: takes blocks of any length, gives what is ready; `finish` gives the rest. */
export interface Stage {
  push(block: Float32Array): Float32Array;
  finish(): Float32Array;
}

/** How a recording's rate is brought down to the analysis rate: whole factors, at most two stages. */
export interface DecimationPlan {
  readonly factors: readonly number[];
  readonly analysisRateHz: number;
}

/** Everything below this is kept flat; above it lies only the skirt of the anti-alias filter. */
const KEPT_HZ = 620;
const ATTENUATION_DB = 70;
const WANTED_RATE_HZ = 2000;

/**
 * Chooses whole decimation factors that bring a sample rate as near to 2 kHz as they can. An even factor of 4
 * or more is split in two stages, the last one 2: the first filter may then be short, because its skirt may
 * alias into what the second removes.
 */
export function planDecimation(sampleRateHz: number): DecimationPlan {
  const factor = Math.max(1, Math.round(sampleRateHz / WANTED_RATE_HZ));
  const factors = factor === 1 ? [] : factor % 2 === 0 && factor >= 4 ? [factor / 2, 2] : [factor];
  return { factors, analysisRateHz: sampleRateHz / factor };
}

/**
 * Brings samples at `sampleRateHz` down to the planned analysis rate through linear-phase anti-alias FIRs.
 * The delay is taken out: sample n of the result stands at time n / analysisRateHz of the recording. The
 * recording is taken as silent before its start and after its end.
 */
export function decimator(sampleRateHz: number): Stage & { readonly analysisRateHz: number } {
  const { factors, analysisRateHz } = planDecimation(sampleRateHz);
  let rateHz = sampleRateHz;
  const stages = factors.map((factor) => {
    const outRateHz = rateHz / factor;
    const stopHz = outRateHz - KEPT_HZ;
    const stage = decimatingFir(lowpassTaps(rateHz, KEPT_HZ, stopHz, ATTENUATION_DB), factor);
    rateHz = outRateHz;
    return stage;
  });
  return {
    analysisRateHz,
    push: (block) => stages.reduce((samples, stage) => stage.push(samples), block),
    finish: () => {
      let tail: Float32Array = new Float32Array(0);
      for (const stage of stages) {
        const pushed = stage.push(tail);
        const rest = stage.finish();
        tail = new Float32Array(pushed.length + rest.length);
        tail.set(pushed);
        tail.set(rest, pushed.length);
      }
      return tail;
    },
  };
}

/**
 * One stage: filters with symmetric taps and keeps every `factor`-th sample, centred on the kept sample.
 * The symmetry halves the multiplications.
 */
export function decimatingFir(taps: Float64Array, factor: number): Stage {
  const half = (taps.length - 1) / 2;
  const folded = Float64Array.from({ length: half + 1 }, (_, k) => taps[half + k]!);
  // `held` holds samples from absolute position `heldFrom` on; the half filter before the start is silence.
  // In double precision, so that a sample is converted once and not for every tap that reads it.
  let held = new Float64Array(half + 4096);
  let heldLength = half;
  let next = half; // position in `held` of the next kept sample

  const drain = (): Float32Array => {
    const count = Math.max(0, Math.floor((heldLength - 1 - half - next) / factor) + 1);
    const kept = new Float32Array(count);
    filterSymmetric(kept, held, next, factor, folded);
    next += count * factor;
    // next may pass the end of what is held when factor > half; then nothing but the count is kept.
    const drop = Math.min(next - half, heldLength);
    held.copyWithin(0, drop, heldLength);
    heldLength -= drop;
    next -= drop;
    return kept;
  };

  const push = (block: Float32Array): Float32Array => {
    if (heldLength + block.length > held.length) {
      const larger = new Float64Array(2 * (heldLength + block.length));
      larger.set(held.subarray(0, heldLength));
      held = larger;
    }
    held.set(block, heldLength);
    heldLength += block.length;
    return drain();
  };
  return { push, finish: () => push(new Float32Array(half)) };
}

/** kept[n] = Σ_k folded[|k|] · held[first + n · factor + k]. */
function filterSymmetric(
  kept: Float32Array,
  held: Float64Array,
  first: number,
  factor: number,
  folded: Float64Array,
): void {
  const pairs = kept.length >> 1;
  for (let n = 0; n < pairs; n++) filterTwo(kept, 2 * n, held, first + 2 * n * factor, factor, folded);
  if (kept.length % 2 === 0) return;
  const a = first + (kept.length - 1) * factor;
  let sum = folded[0]! * held[a]!;
  for (let k = 1; k < folded.length; k++) sum += folded[k]! * (held[a - k]! + held[a + k]!);
  kept[kept.length - 1] = sum;
}

/** Two results that share the reading of the taps, centred on `a` and `factor` further: the innermost loop of all. */
function filterTwo(
  kept: Float32Array,
  to: number,
  held: Float64Array,
  a: number,
  factor: number,
  folded: Float64Array,
): void {
  const b = a + factor;
  let sumA = folded[0]! * held[a]!;
  let sumB = folded[0]! * held[b]!;
  for (let k = 1; k < folded.length; k++) {
    const tap = folded[k]!;
    sumA += tap * (held[a - k]! + held[a + k]!);
    sumB += tap * (held[b - k]! + held[b + k]!);
  }
  kept[to] = sumA;
  kept[to + 1] = sumB;
}
