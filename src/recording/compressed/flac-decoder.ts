import { quietly } from './quietly.ts';

/** Takes a whole block to samples of every channel; null where it cannot. */
export interface FlacDecoder {
  readonly decode: (block: Uint8Array, frameCount: number) => Promise<readonly Float32Array[] | null>;
  /** Gives the decoder back. */
  readonly release: () => void;
}

// Making a decoder takes longer than decoding a window: some are kept for the next.
const mostIdle = 4;
const idle: LoadedDecoder[] = [];

type LoadedDecoder = Awaited<ReturnType<typeof load>>;

async function load() {
  const { FLACDecoder } = await import('@wasm-audio-decoders/flac');
  const decoder = new FLACDecoder();
  await decoder.ready;
  return decoder;
}

/**
 * A decoder. Most blocks tell all about themselves, so that one that has been used decodes like a new one; blocks
 * that leave their rate or sample size to the head of the file need one that has seen it.
 *
 * @param head the beginning of a file: `fLaC` and STREAMINFO, marked as the last of its metadata
 */
export async function flacDecoder(head: Uint8Array): Promise<FlacDecoder> {
  let decoder = idle.pop() ?? (await load());
  let knowsHead = false;
  let isBroken = false;
  return {
    decode: async (block, frameCount) => {
      const needsHead = (block[2]! & 15) === 0 || ((block[3]! >> 1) & 7) === 0;
      if (isBroken || (needsHead && !knowsHead)) {
        decoder.free();
        decoder = await load();
        knowsHead = needsHead;
        if (needsHead) await quietly(() => decoder.decodeFrames([head]));
      }
      isBroken = true;
      const { channelData, samplesDecoded } = await quietly(() => decoder.decodeFrames([block]));
      if (samplesDecoded !== frameCount) return null;
      isBroken = false;
      return channelData;
    },
    release: () => {
      if (isBroken || knowsHead || idle.length >= mostIdle) decoder.free();
      else idle.push(decoder);
    },
  };
}
