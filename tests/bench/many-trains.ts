/**
 * A study of very many trains (default 1 000 000 in 20 recordings of a day): how long it takes to open it, to page
 * through its queue, to count what is reviewed, to draw a day ribbon, to edit, and to export it; and whether any of
 * the page's questions makes the store look through all trains.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { seededRandom } from '../../src/random.ts';
import { writeExport } from '../../src/study/export/write-export.ts';
import { applyEdit } from '../../src/study/store/edit.ts';
import type { Store } from '../../src/study/store/open-store.ts';
import { countsByBin, progressOf, queuedSounds, soundsWithin } from '../../src/study/store/queries.ts';
import { insertRecording } from '../../src/study/store/recordings.ts';
import { initStudy, newSettings, openStudy, readPlaces } from '../../src/study/study-folder.ts';
import { summariseStudy } from '../../src/study/study-summary.ts';
import { studyView } from '../../src/study/study-view.ts';

const { values } = parseArgs({
  options: {
    trains: { type: 'string', default: '1000000' },
    recordings: { type: 'string', default: '20' },
    export: { type: 'boolean', default: false },
    keep: { type: 'string' },
  },
});
const [trains, recordings] = [Number(values.trains), Number(values.recordings)];
const RUNS = 8;
const folder = values.keep ?? (await mkdtemp(join(tmpdir(), 'combtone-many-')));
try {
  await run(join(folder, 'study'));
} finally {
  if (values.keep === undefined) await rm(folder, { recursive: true, force: true });
}

/** Trains in dances of eight runs, a third of them reviewed, written past the program, which would take an hour. */
function fill(store: Store): void {
  const random = seededRandom(9);
  const event = store.prepare(
    `INSERT INTO events (at, reviewer, kind, recording_id, target, before, after) VALUES
       ('2031-06-14T09:00:00.000Z', 'combtone', 'detect', ?, '[]', '{"sounds":{},"dances":{}}', '{"sounds":{},"dances":{}}')`,
  );
  const detection = store.prepare(
    `INSERT INTO detections (recording_id, settings_hash, settings, combtone_version, made_at, changes)
     VALUES (?, 'bench', '{}', 'bench', '2031-06-14T09:00:00.000Z', '{"kept":0,"same":0,"new":0,"gone":0}')`,
  );
  const dance = store.prepare(
    'INSERT INTO dances (dance_id, version, recording_id, channel, feeder_set) VALUES (?, ?, ?, 1, 0)',
  );
  const sound = store.prepare(
    `INSERT INTO sounds (sound_id, version, recording_id, channel, kind, start_s, end_s, dance_id, pulse_count,
       pulse_rate_hz, carrier_hz, snr_db, confidence, status, edited, detection_id, sources)
     VALUES (?, ?, ?, 1, 'train', ?, ?, ?, 12, 15, 260, 9, ?, ?, 0, ?, '[]')`,
  );
  const each = Math.floor(trains / recordings);
  for (let number = 1; number <= recordings; number++) {
    const stem = `day-${number}`;
    const { id } = insertRecording(store, {
      sha256: number.toString(16).padStart(64, '0'),
      path: `${stem}.wav`,
      stem,
      byteCount: 1,
      modifiedMs: 1,
      sampleRateHz: 8000,
      channelCount: 1,
      durationS: 86_400,
      startTime: '2031-06-14T00:00:00',
      warnings: [],
    });
    const version = Number(event.run(id).lastInsertRowid);
    const from = Number(detection.run(id).lastInsertRowid);
    for (let k = 0; k < each; k++) {
      const danceId = `${stem}-d${String(Math.floor(k / RUNS) + 1).padStart(6, '0')}`;
      if (k % RUNS === 0) dance.run(danceId, version, id);
      const startS = (86_000 * k) / each;
      const status = k % 3 === 0 ? 'accepted' : 'found';
      sound.run(
        `${stem}-t${String(k + 1).padStart(6, '0')}`,
        version,
        id,
        startS,
        startS + 0.3 + 0.8 * random.uniform(),
        danceId,
        random.uniform(),
        status,
        from,
      );
    }
  }
}

async function run(at: string): Promise<void> {
  await initStudy(at, newSettings('many'));
  const made = await openStudy(at);
  await timed(`write ${trains} trains past the program`, 1, () => {
    made.store.transaction(() => fill(made.store))();
  });
  made.store.close();
  await timed('open the study', 3, async () => (await openStudy(at)).store.close());
  const study = await openStudy(at);
  const { store } = study;
  const view = studyView(study, await readPlaces(study));
  await timed('the study as the page asks for it', 3, () => void summariseStudy(view, false));
  await timed('progress of all', 5, () => void progressOf(store));
  await timed('progress of one recording', 5, () => void progressOf(store, 7));
  const queue = { include: 'unreviewed', offset: 0, limit: 200 } as const;
  for (const order of ['confidence', 'time'] as const) {
    await timed(
      `queue of a recording, by ${order}`,
      5,
      () => void queuedSounds(store, { ...queue, order, recordingId: 7 }),
    );
    await timed(`queue of all, by ${order}`, 3, () => void queuedSounds(store, { ...queue, order }));
  }
  await timed(
    'queue of all, by time, 300 000 on',
    3,
    () => void queuedSounds(store, { ...queue, order: 'time', offset: 300_000 }),
  );
  await timed('ribbon', 5, () => void countsByBin(store, 7, 1, 60));
  await timed('window of 60 s', 20, () => void soundsWithin(store, 7, 1, 40_000, 40_060));
  let k = 0;
  await timed('edit, and progress after it', 50, () => {
    const id = `day-3-t${String(3 * ++k + 1).padStart(6, '0')}`;
    const { version } = store.prepare('SELECT version FROM sounds WHERE sound_id = ?').get(id) as {
      version: number;
    };
    applyEdit(store, { kind: 'reject', targets: [{ id, version }] }, { reviewer: 'bench' });
    progressOf(store);
  });
  if (values.export) {
    await timed('export', 1, () => writeExport(join(folder, 'tables'), view));
    process.stdout.write(`memory at its highest ${Math.round(process.resourceUsage().maxRSS / 1024)} MB\n`);
  }
  study.store.close();
}

async function timed(what: string, times: number, act: () => unknown): Promise<void> {
  const took: number[] = [];
  for (let round = 0; round < times; round++) {
    const began = performance.now();
    await act();
    took.push(performance.now() - began);
  }
  took.sort((a, b) => a - b);
  const [median, worst] = [took[took.length >> 1]!, took.at(-1)!].map((ms) => ms.toFixed(1).padStart(9));
  process.stdout.write(`${what.padEnd(44)} median ${median} ms  worst ${worst} ms\n`);
}
