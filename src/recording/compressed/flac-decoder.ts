import { quietly } from './quietly.ts';

/** Takes a whole block to samples of every channel; null where it cannot. */
export interface FlacDecoder {
  readonly decode: (block: Uint8Array, frameCount: number) => Promise<readonly Float32Array[] | null>;
  /** Gives the decoder back. */
  readonly release: () => void;
}

// Making a decoder takes longer than decoding a window: some are kept for the next.
const mostIdle = 4;
const idle: { readonly make: Promise<LoadedDecoder> }[] = [];

type LoadedDecoder = Awaited<ReturnType<typeof load>>;

async function load() {
  const { FLACDecoder } = await import('@wasm-audio-decoders/flac');
  const decoder = new FLACDecoder();
  await decoder.ready;
  return decoder;
}

/** A decoder: blocks tell all about themselves, so that one that has been used decodes like a new one. */
export async function flacDecoder(): Promise<FlacDecoder> {
  const kept = idle.pop() ?? { make: load() };
  const decoder = await kept.make;
  let isBroken = false;
  return {
    decode: async (block, frameCount) => {
      if (isBroken) await decoder.reset();
      isBroken = true;
      const { channelData, samplesDecoded } = await quietly(() => decoder.decodeFrames([block]));
      if (samplesDecoded !== frameCount) return null;
      isBroken = false;
      return channelData;
    },
    release: () => {
      if (isBroken || idle.length >= mostIdle) decoder.free();
      else idle.push(kept);
    },
  };
}
