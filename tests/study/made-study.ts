import { createHash } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';
import { type DetectedSound, saveDetection } from '../../src/study/store/detections.ts';
import { applyEdit } from '../../src/study/store/edit.ts';
import type { Store } from '../../src/study/store/open-store.ts';
import { insertRecording, type StoredRecording } from '../../src/study/store/recordings.ts';
import { soundById } from '../../src/study/store/state.ts';
import { initStudy, newSettings, type OpenStudy, openStudy } from '../../src/study/study-folder.ts';
import type { Edit, ReviewEvent } from '../../src/study/study-schemas.ts';

/** A folder of its own for the tests of one file, removed after them. */
export function studyFolders(): (name: string) => Promise<OpenStudy> {
  let folder = '';
  const open: OpenStudy[] = [];
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-study-'));
  });
  afterAll(async () => {
    for (const { store } of open) store.close();
    await rm(folder, { recursive: true, force: true });
  });
  return async (name) => {
    await initStudy(join(folder, name), newSettings(name));
    const study = await openStudy(join(folder, name));
    open.push(study);
    return study;
  };
}

/** Dances of two bees to feeders at three distances, to be calibrated by. */
export const dancesToFeeders = [150, 350, 700].flatMap((distanceM, k) =>
  ['a', 'b'].map((beeId) => ({
    danceId: `d${k}${beeId}`,
    beeId,
    distanceM,
    treatment: null,
    durationsS: [0.2, 0.21, 0.19, 0.22, 0.2].map((base) => base + 0.001 * distanceM + 0.01 * k),
    circuitsPer15s: [null, null, null, null, null],
  })),
);

/** A recording that is known without being there. */
export function knownRecording(store: Store, given: Partial<StoredRecording> = {}): StoredRecording {
  return insertRecording(store, {
    sha256: createHash('sha256')
      .update(given.stem ?? 'hive')
      .digest('hex'),
    path: `${given.stem ?? 'hive'}.wav`,
    stem: 'hive',
    byteCount: 0,
    modifiedMs: 0,
    sampleRateHz: 8000,
    channelCount: 2,
    durationS: 600,
    startTime: '2031-06-14T09:30:00',
    warnings: [],
    ...given,
  });
}

/** A train with a pulse every 0.06 s from its start on. */
export function train(startS: number, endS: number, dance: number, more: Partial<DetectedSound> = {}) {
  return sound({ kind: 'train', startS, endS, dance, carrierHz: 260, pulseRateHz: 16.7, ...more });
}

export function call(startS: number, endS: number, more: Partial<DetectedSound> = {}): DetectedSound {
  return sound({ kind: 'begging', startS, endS, dance: null, carrierHz: 380, ...more });
}

function sound(given: Partial<DetectedSound> & Pick<DetectedSound, 'kind' | 'startS' | 'endS'>) {
  const { startS, endS } = given;
  const pulseTimesS = Array.from({ length: Math.floor((endS - startS) / 0.06) }, (_, k) => startS + 0.06 * k);
  return {
    channel: 1,
    pulseRateHz: null,
    carrierHz: null,
    snrDb: 9,
    confidence: 0.9,
    pulseTimesS: given.kind === 'train' ? pulseTimesS : null,
    dance: null,
    ...given,
  } satisfies DetectedSound;
}

/** Two dances of five and four runs, and two calls. */
export const twoDances: readonly DetectedSound[] = [
  ...[0, 1, 2, 3, 4].map((k) => train(10 + 3 * k, 11 + 3 * k, 0, { confidence: 0.9 - 0.05 * k })),
  ...[0, 1, 2, 3].map((k) => train(100 + 3 * k, 100.6 + 3 * k, 1, { carrierHz: 300 })),
  call(12.2, 12.35, { confidence: 0.55 }),
  call(104.5, 104.7),
];

export function detect(
  store: Store,
  recordingId: number,
  sounds: readonly DetectedSound[],
  settings = 'first',
) {
  return saveDetection(store, {
    recordingId,
    settingsHash: settings,
    settings: { name: settings },
    combtoneVersion: '0.0.0',
    sounds,
  });
}

/** Names a sound as it now is. */
export function now(store: Store, id: string): { id: string; version: number } {
  return { id, version: soundById(store, id)?.version ?? 0 };
}

export function edit(store: Store, given: Edit, reviewer = 'ada'): ReviewEvent {
  return applyEdit(store, given, { reviewer });
}
