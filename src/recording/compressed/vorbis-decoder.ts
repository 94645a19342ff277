import { quietly } from './quietly.ts';

/** The three packets before the sound that a decoder needs, but for the comments. */
export interface VorbisSetup {
  readonly channelCount: number;
  readonly sampleRateHz: number;
  readonly identification: Uint8Array;
  readonly setup: Uint8Array;
  /** Samples that a long block spans. */
  readonly longBlock: number;
}

/** Takes packets to samples of every channel; null where it cannot. The first packet gives no samples. */
export interface VorbisDecoder {
  readonly decode: (packets: readonly Uint8Array[]) => Promise<readonly Float32Array[] | null>;
  readonly free: () => void;
}

/** The parts of a page that the decoder looks at. */
interface GivenPage {
  readonly data: Uint8Array;
  readonly codecFrames: readonly {
    readonly data: Uint8Array;
    readonly header: { vorbisSetup: Uint8Array };
  }[];
}

// The decoder's own buffer.
const mostPacketBytes = 128 * 1024;

/** A decoder that has seen the setup. */
export async function vorbisDecoder(setup: VorbisSetup): Promise<VorbisDecoder> {
  const { OggVorbisDecoder } = await import('@wasm-audio-decoders/ogg-vorbis');
  const decoder = new OggVorbisDecoder();
  await decoder.ready;
  const none = new Uint8Array(1);
  const header = { vorbisSetup: setup.setup };
  const give = (page: GivenPage) => {
    type Pages = Parameters<typeof decoder.decodeOggPages>[0];
    return quietly(() => decoder.decodeOggPages([page] as unknown as Pages));
  };
  let isBroken = setup.setup.length > mostPacketBytes;
  let isFirst = true;

  const decode = async (packets: readonly Uint8Array[]): Promise<readonly Float32Array[] | null> => {
    const fitting = packets.filter(({ length }) => length > 0 && length <= mostPacketBytes);
    if (fitting.length === 0) return [];
    if (isBroken) return null;
    try {
      if (isFirst) await give({ data: setup.identification, codecFrames: [] });
      isFirst = false;
      const frames = fitting.map((data) => ({ data, header }));
      const { channelData } = await give({ data: none, codecFrames: frames });
      return channelData.length === setup.channelCount ? channelData : null;
    } catch {
      // A decoder that fell over damaged sound is not to be trusted any more.
      isBroken = true;
      return null;
    }
  };
  return { decode, free: () => void (isBroken || decoder.free()) };
}
