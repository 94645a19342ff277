import { describe, expect, test } from 'vitest';
import { detectSounds } from '../../src/dance/detect.ts';
import type { FoundTrain, SegmentFindings } from '../../src/dance/detect-segment.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { RATE_HZ } from './made-sound.ts';

const found = (startS: number, carrierHz = 260): FoundTrain => ({
  startS,
  endS: startS + 1,
  pulseTimesS: [startS, startS + 1],
  beatS: 0.05,
  carrierHz,
  snrDb: 10,
  confidence: 0.9,
});

/** Searches so many seconds of silence, in which is found what is said of each segment in turn. */
async function detected(lengthS: number, findings: readonly Partial<SegmentFindings>[]) {
  const left = [...findings];
  const blocks = (async function* () {
    yield new Float32Array(Math.round(lengthS * RATE_HZ));
  })();
  const segmentSearch = {
    search: () => ({ trains: [], calls: [], noisePower: 0, ...left.shift()! }),
    atOnce: 1,
  };
  const detection = await detectSounds([{ channel: 1, blocks }], RATE_HZ, DEFAULT_SETTINGS, {
    segmentSearch,
  });
  expect(left).toEqual([]);
  return detection;
}

describe('what two segments found', () => {
  const starts = async (first: FoundTrain, second: FoundTrain) =>
    (await detected(200, [{ trains: [first] }, { trains: [second] }])).trains.map(({ startS }) => startS);

  test('at their seam is one sound where it shares more than half and is less than 25 Hz away', async () => {
    expect(await starts(found(119.6), found(119.65))).toEqual([119.6]);
    expect(await starts(found(119.6), found(120.09))).toEqual([119.6]);
    expect(await starts(found(119.6), found(120.11))).toEqual([119.6, 120.11]);
    expect(await starts(found(119.6), found(119.65, 284))).toEqual([119.6]);
    expect(await starts(found(119.6), found(119.65, 286))).toEqual([119.6, 119.65]);
  });

  test('at their seam is one sound though others were found after it', async () => {
    const { trains } = await detected(200, [
      { trains: [found(119.6), found(119.7, 300), found(119.8, 340)] },
      { trains: [found(119.65)] },
    ]);
    expect(trains.map(({ startS }) => startS)).toEqual([119.6, 119.7, 119.8]);
  });

  test('of noise is averaged over time: the last segment is shorter', async () => {
    // The first is 134 s long with its context; the second answers for 120 to 200 s and hears from 106 s on.
    const { noiseDb } = await detected(200, [{ noisePower: 1e-4 }, { noisePower: 1e-6 }]);
    expect(noiseDb[0]).toBeCloseTo(10 * Math.log10((134 * 1e-4 + 94 * 1e-6) / (134 + 94)), 6);
  });
});
