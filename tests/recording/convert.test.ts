import fc from 'fast-check';
import { expect, test } from 'vitest';
import { decoderConverter, headRoomBytes, viewConverter } from '../../src/recording/convert.ts';

function convertBothWays(encoding: 'pcm16' | 'float32', channelCount: number, bytes: Uint8Array) {
  const frameBytes = channelCount * (encoding === 'pcm16' ? 2 : 4);
  const frameCount = Math.floor(bytes.length / frameBytes);
  return Array.from({ length: channelCount }, (_, channelIndex) => {
    const piece = new ArrayBuffer(headRoomBytes + bytes.length);
    new Uint8Array(piece, headRoomBytes).set(bytes);
    const byView = new Float32Array(frameCount);
    const byDecoder = new Float32Array(frameCount);
    viewConverter({ encoding, channelCount, channelIndex })!(piece, frameCount, byView);
    decoderConverter({ encoding, channelCount, channelIndex })(piece, frameCount, byDecoder);
    return { byView, byDecoder };
  });
}

test('16 bits: the typed-array view and wav-decoder agree on every value', () => {
  const every = new Int16Array(65_536).map((_, index) => index - 32_768);
  const [{ byView, byDecoder }] = convertBothWays('pcm16', 1, new Uint8Array(every.buffer)) as [
    { byView: Float32Array; byDecoder: Float32Array },
  ];
  expect(byView[0]).toBe(-1);
  expect(byView[32_768]).toBe(0);
  expect(byView[65_535]).toBe(32_767 / 32_768);
  expect(byView).toEqual(byDecoder);
});

test.each(['pcm16', 'float32'] as const)('%s: both ways agree for any bytes and channels', (encoding) => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 8 }), fc.uint8Array({ maxLength: 400 }), (channelCount, bytes) => {
      for (const { byView, byDecoder } of convertBothWays(encoding, channelCount, bytes)) {
        // Object.is on every place: NaN equals NaN, and 0 is not -0.
        expect(byView.every((sample, index) => Object.is(sample, byDecoder[index]))).toBe(true);
      }
    }),
  );
});
