import { decimator } from '../signal/decimator.ts';

/** One stretch of a recording at the analysis rate, with context on either side of what it answers for. */
export interface Segment {
  readonly samples: Float32Array;
  readonly sampleRateHz: number;
  /** Time of the first sample in the recording, s. */
  readonly startS: number;
  /** The segment answers for what is centred in [coreStartS, coreEndS). */
  readonly coreStartS: number;
  readonly coreEndS: number;
}

/**
 * What is found in a segment must not depend on what lies far away, so that long recordings take no more
 * memory than short ones and may be cut over several threads. The context covers the longest run and the
 * reach of the noise floor.
 */
const CORE_S = 120;
const CONTEXT_S = 14;
/** Segments start on whole multiples of this, so that frames fall on one grid whatever the cut. */
const GRID_SAMPLES = 8;

/**
 * Cuts a stream of samples into segments at the analysis rate. The cut depends on the recording alone, never
 * on the length of the blocks.
 *
 * @param blocks samples in order; each may be reused by its source once the next is asked for
 */
export async function* segmentsOf(
  blocks: AsyncIterable<Float32Array>,
  sampleRateHz: number,
): AsyncGenerator<Segment> {
  const stage = decimator(sampleRateHz);
  const rateHz = stage.analysisRateHz;
  const toGrid = (seconds: number) => Math.round((seconds * rateHz) / GRID_SAMPLES) * GRID_SAMPLES;
  const core = toGrid(CORE_S);
  const context = toGrid(CONTEXT_S);
  let held = new Float32Array(core + 2 * context + toGrid(60));
  let heldFrom = 0; // position of held[0] in the recording, samples
  let heldLength = 0;
  let coreFrom = 0;

  const take = (samples: Float32Array) => {
    if (heldLength + samples.length > held.length) {
      const larger = new Float32Array(2 * (heldLength + samples.length));
      larger.set(held.subarray(0, heldLength));
      held = larger;
    }
    held.set(samples, heldLength);
    heldLength += samples.length;
  };
  const cut = (coreEnd: number, end: number): Segment => {
    const from = Math.max(0, coreFrom - context);
    const segment = {
      samples: held.slice(from - heldFrom, end - heldFrom),
      sampleRateHz: rateHz,
      startS: from / rateHz,
      coreStartS: coreFrom === 0 ? Number.NEGATIVE_INFINITY : coreFrom / rateHz,
      coreEndS: coreEnd / rateHz,
    };
    coreFrom = coreEnd;
    const drop = Math.max(0, coreFrom - context) - heldFrom;
    held.copyWithin(0, drop, heldLength);
    heldFrom += drop;
    heldLength -= drop;
    return segment;
  };

  // By the same rule while samples come and at their end: the filter holds back the last ones, at some rates.
  const isWhole = () => heldFrom + heldLength >= coreFrom + core + context;
  const cutWhole = () => cut(coreFrom + core, coreFrom + core + context);
  for await (const block of blocks) {
    take(stage.push(block));
    while (isWhole()) yield cutWhole();
  }
  take(stage.finish());
  while (isWhole()) yield cutWhole();
  const end = heldFrom + heldLength;
  if (end > coreFrom) yield { ...cut(end, end), coreEndS: Number.POSITIVE_INFINITY };
}
