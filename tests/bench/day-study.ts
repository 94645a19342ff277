import { open } from 'node:fs/promises';
import { join } from 'node:path';
import type { Random } from '../../src/random.ts';
import { openRecording } from '../../src/recording/index.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import type { DetectedSound } from '../../src/study/store/detections.ts';

/**
 * Two minutes of a simulated hive, over and over; a size that was never set lets the file pass 4 GiB.
 *
 * @param everyMinutes how often the two minutes are written; what lies between is a hole in the file, read as silence
 */
export async function dayRecording(folder: string, hours: number, everyMinutes = 2): Promise<string> {
  const made = await simulateHive(folder, 'piece', {
    seed: 11,
    lengthS: 120,
    sampleRateHz: 44_100,
    snrDb: 8,
  });
  const recording = await openRecording(made.recordingPath);
  const bytes = Buffer.alloc(2 * recording.info.frameCount);
  let at = 0;
  for await (const block of recording.blocks(1)) {
    for (const sample of block) at = bytes.writeInt16LE(Math.round(32_767 * sample), at);
  }
  await recording.close();
  const header = Buffer.alloc(44);
  header.write('RIFF', 0);
  header.writeUInt32LE(0xffff_ffff, 4);
  header.write('WAVEfmt ', 8);
  header.writeUInt32LE(16, 16);
  header.writeUInt16LE(1, 20);
  header.writeUInt16LE(1, 22);
  header.writeUInt32LE(44_100, 24);
  header.writeUInt32LE(88_200, 28);
  header.writeUInt16LE(2, 32);
  header.writeUInt16LE(16, 34);
  header.write('data', 36);
  header.writeUInt32LE(0xffff_ffff, 40);
  const path = join(folder, 'day.wav');
  const file = await open(path, 'w');
  await file.write(header);
  for (let k = 0; k < hours * 30; k += everyMinutes / 2) {
    await file.write(bytes, 0, bytes.length, 44 + k * bytes.length);
  }
  await file.truncate(44 + hours * 30 * bytes.length);
  await file.close();
  return path;
}

/** 2000 dances of ten runs over the day, and a tenth as many calls. */
export function dayOfTrains(hours: number, random: Random): DetectedSound[] {
  const dances = 2000;
  return Array.from({ length: dances }, (_, dance) => {
    const startS = (3600 * hours * dance) / dances;
    const runs = Array.from({ length: 10 }, (__, k): DetectedSound => {
      const from = startS + 2.2 * k;
      const pulseTimesS = Array.from({ length: 12 }, (___, n) => from + 0.06 * n);
      const confidence = 0.5 + 0.5 * random.uniform();
      const shared = { channel: 1, startS: from, endS: from + 0.75, carrierHz: 260, snrDb: 9, confidence };
      return { ...shared, kind: 'train', dance, pulseRateHz: 16.7, pulseTimesS };
    });
    const call = { channel: 1, startS: startS + 25, endS: startS + 25.2, carrierHz: 380, snrDb: 8 };
    return [
      ...runs,
      {
        ...call,
        kind: 'begging' as const,
        dance: null,
        confidence: 0.8,
        pulseRateHz: null,
        pulseTimesS: null,
      },
    ];
  }).flat();
}
