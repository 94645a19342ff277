declare module 'wav-decoder' {
  interface DecodedWave {
    readonly numberOfChannels: number;
    /** Frames. */
    readonly length: number;
    readonly sampleRate: number;
    readonly channelData: readonly Float32Array[];
  }
  const wavDecoder: {
    readonly decode: {
      sync(buffer: ArrayBuffer, options?: { readonly symmetric?: boolean }): DecodedWave;
    };
  };
  export default wavDecoder;
}
