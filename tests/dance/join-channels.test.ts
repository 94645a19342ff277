import { describe, expect, test } from 'vitest';
import { joinChannels } from '../../src/dance/join-channels.ts';

const heard = (startS: number, endS: number, carrierHz: number, snrDb: number) => ({
  startS,
  endS,
  carrierHz,
  snrDb,
});

describe('joinChannels', () => {
  test('what two microphones heard of one run is one run, on the clearest channel', () => {
    const joined = joinChannels([
      { channel: 1, sounds: [heard(1, 2, 250, 6)] },
      { channel: 2, sounds: [heard(1.02, 2.05, 252, 9)] },
      { channel: 3, sounds: [heard(1.01, 1.98, 249, 3)] },
    ]);
    expect(joined).toEqual([{ ...heard(1.02, 2.05, 252, 9), channel: 2, alsoChannels: [1, 3] }]);
  });

  test('two dancers at once, apart in carrier, stay two', () => {
    const joined = joinChannels([
      { channel: 1, sounds: [heard(1, 2, 250, 6)] },
      { channel: 2, sounds: [heard(1, 2, 270, 6)] },
    ]);
    expect(joined).toHaveLength(2);
    expect(joined.every((one) => one.alsoChannels.length === 0)).toBe(true);
  });

  test.each([
    ['carriers 15 Hz apart', heard(1, 2, 265, 3), 2],
    ['carriers 14.9 Hz apart', heard(1, 2, 264.9, 3), 1],
    ['half of the union in common', heard(1, 3, 250, 3), 1],
    ['less than half of it', heard(1, 3.01, 250, 3), 2],
  ])('the margins of sameness: %s', (_, other, count) => {
    const joined = joinChannels([
      { channel: 1, sounds: [heard(1, 2, 250, 6)] },
      { channel: 2, sounds: [other] },
    ]);
    expect(joined).toHaveLength(count);
  });

  test('two sounds of one channel are never joined', () => {
    const joined = joinChannels([{ channel: 1, sounds: [heard(1, 2, 250, 6), heard(1.1, 2.1, 252, 5)] }]);
    expect(joined).toHaveLength(2);
  });

  test('a sound takes up one sound of each other channel: the second there is another one', () => {
    // Both share more than half of their union with the sound of channel 1.
    const joined = joinChannels([
      { channel: 1, sounds: [heard(1, 2, 250, 9)] },
      { channel: 2, sounds: [heard(1, 1.6, 250, 6), heard(1.4, 2, 252, 5)] },
    ]);
    expect(joined.map(({ startS, channel, alsoChannels }) => [startS, channel, alsoChannels])).toEqual([
      [1, 1, [2]],
      [1.4, 2, []],
    ]);
  });

  test('is in order of start', () => {
    const joined = joinChannels([
      { channel: 1, sounds: [heard(5, 6, 250, 6)] },
      { channel: 2, sounds: [heard(1, 2, 250, 9), heard(8, 9, 250, 1)] },
    ]);
    expect(joined.map((one) => one.startS)).toEqual([1, 5, 8]);
  });
});
