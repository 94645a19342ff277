import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { seededRandom } from '../../src/random.ts';
import type { RecordingDetection } from '../../src/study/detect-recording.ts';
import { detectionTables } from '../../src/study/detection-tables.ts';
import { foundText, readFoundText } from '../../src/study/found-record.ts';
import { lastEventId } from '../../src/study/store/events.ts';
import { searchSettings, settingsHash } from '../../src/study/study-detect.ts';
import { mergeFound } from '../../src/study/study-shard.ts';
import { knownRecording, studyFolders } from './made-study.ts';

/** What shards and workers hand over may be damaged, or come from somebody else. */

const newStudy = studyFolders();
const key = { sha256: 'a'.repeat(64), settingsHash: 'b'.repeat(64) };

function foundThings(): RecordingDetection {
  const runs = [0, 1, 2].map((k) => ({
    startS: 10 + 3 * k,
    endS: 11 + 3 * k,
    beatS: 0.06,
    carrierHz: 260,
    snrDb: 9,
    confidence: 0.9,
    channel: 1,
    alsoChannels: [],
    dance: 0,
    pulseTimesS: [10.1 + 3 * k, 10.5 + 3 * k],
  }));
  const detection = { trains: runs, calls: [], noiseDb: [-40] } as unknown as Parameters<
    typeof detectionTables
  >[0];
  const tables = detectionTables(detection, { recording: 'hive.wav', stem: 'hive', startTime: null });
  const info = {
    path: 'hive.wav',
    format: 'WAVE',
    sampleRateHz: 8000,
    channelCount: 1,
    frameCount: 480_000,
    durationS: 60,
    encoding: 'pcm16',
    startTime: null,
    startTimeSource: null,
    warnings: [],
  };
  return {
    ...tables,
    info: info as unknown as RecordingDetection['info'],
    pulseTimesS: new Map(tables.trains.map((row, k) => [row.train_id, runs[k]!.pulseTimesS])),
    channels: [],
    warnings: [],
  };
}

const whole = foundText(key, foundThings());
const hostile = [
  '1e308',
  '-1e308',
  '1e999',
  'null',
  '-1',
  '"x"',
  '[]',
  '{}',
  '"__proto__"',
  '{"__proto__":{"a":1}}',
  `${'['.repeat(3000)}${']'.repeat(3000)}`,
];

/** What was read, or null where it was refused in a line. */
function reading(text: string): RecordingDetection | null {
  try {
    return readFoundText('found.json', text, key);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    expect(error.message).not.toMatch(/[\n\r]/);
    expect(error.message.length).toBeLessThan(2000);
    return null;
  }
}

describe('findings of a shard', () => {
  test('come back as they were', () => {
    expect(readFoundText('found.json', whole, key)).toEqual(foundThings());
  });

  test('with hostile values in place of others are read or refused, and soon', () => {
    const places = [...whole.matchAll(/(?<=":)(?:"[^"]*"|-?[\d.]+|null|true|false)/g)];
    const random = seededRandom(41);
    const began = performance.now();
    const counts = { read: 0, refused: 0 };
    for (let k = 0; k < 3000; k++) {
      const place = places[random.below(places.length)]!;
      const put = hostile[random.below(hostile.length)]!;
      const text = whole.slice(0, place.index) + put + whole.slice(place.index + place[0].length);
      counts[reading(text) === null ? 'refused' : 'read']++;
    }
    expect(counts.read).toBeGreaterThan(100);
    expect(counts.refused).toBeGreaterThan(1000);
    expect(performance.now() - began).toBeLessThan(20_000);
    expect(({} as { a?: number }).a).toBeUndefined();
  });

  test('torn, or with bytes changed, are read or refused', () => {
    const random = seededRandom(42);
    for (let k = 0; k < 1000; k++) {
      const at = random.below(whole.length);
      expect(reading(whole.slice(0, at))).toBeNull();
      reading(whole.slice(0, at) + String.fromCharCode(random.below(256)) + whole.slice(at + 1));
    }
  });

  test.each([
    ['a run that ends before it begins', (run: Record<string, unknown>) => ({ ...run, end_s: 1 })],
    ['a run of no length', (run: Record<string, unknown>) => ({ ...run, end_s: run.start_s })],
    ['a run before the recording', (run: Record<string, unknown>) => ({ ...run, start_s: -5 })],
    ['a run after the recording', (run: Record<string, unknown>) => ({ ...run, start_s: 1e12, end_s: 1e13 })],
    ['a run on a channel that is not there', (run: Record<string, unknown>) => ({ ...run, channel: 2 })],
  ])('with %s are not taken in, and keep no others from it', async (name, spoil) => {
    const study = await newStudy(`spoilt ${name.replaceAll(' ', '-')}`);
    const settings = searchSettings(study, {});
    await mkdir(join(study.folder, 'found'));
    for (const [k, spoilt] of [true, false].entries()) {
      const stem = `hive-${k}`;
      const { sha256 } = knownRecording(study.store, { stem, durationS: 60, channelCount: 1 });
      const own = { sha256, settingsHash: settingsHash(settings) };
      const record = JSON.parse(foundText(own, foundThings()));
      if (spoilt) record.found.trains[1] = spoil(record.found.trains[1]);
      const file = `${sha256}-${own.settingsHash.slice(0, 16)}.json`;
      await writeFile(join(study.folder, 'found', file), JSON.stringify(record));
    }
    const { done, failures } = await mergeFound(study);
    expect(done.map(({ recording }) => recording.stem)).toEqual(['hive-1']);
    expect(failures).toHaveLength(1);
    expect(failures[0]!.message).toMatch(/\.json: found trains\.1: .*; wanted sounds/);
    expect(lastEventId(study.store)).toBe(1);
  });
});
