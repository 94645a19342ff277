/**
 * A study of very many trains (default 1 000 000 in 20 recordings of a day): how long it takes to open it, to page
 * through its queue, to count what is reviewed, to draw a day ribbon, to edit, and to export it; and whether any of
 * the page's questions makes the store look through all trains. The export is a process of its own, so that its memory
 * is its own; with --history it holds what detections found too, twelve pulses a train, and what their events did.
 */
import { spawnSync } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { seededRandom } from '../../src/random.ts';
import { applyEdit } from '../../src/study/store/edit.ts';
import type { Store } from '../../src/study/store/open-store.ts';
import { packTimes } from '../../src/study/store/pulses.ts';
import { countsByBin, progressOf, queuedSounds, soundsWithin } from '../../src/study/store/queries.ts';
import { insertRecording } from '../../src/study/store/recordings.ts';
import { emptyDance } from '../../src/study/store/rows.ts';
import { initStudy, newSettings, openStudy, readPlaces } from '../../src/study/study-folder.ts';
import { summariseStudy } from '../../src/study/study-summary.ts';
import { studyView } from '../../src/study/study-view.ts';

const { values } = parseArgs({
  options: {
    trains: { type: 'string', default: '1000000' },
    recordings: { type: 'string', default: '20' },
    export: { type: 'boolean', default: false },
    history: { type: 'boolean', default: false },
    keep: { type: 'string' },
  },
});
const [trains, recordings] = [Number(values.trains), Number(values.recordings)];
const RUNS = 8;
const noRows = JSON.stringify({ sounds: {}, dances: {} });
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
       ('2031-06-14T09:00:00.000Z', 'combtone', 'detect', ?, '[]', '{"sounds":{},"dances":{}}', ?)`,
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
  const found = store.prepare(
    `INSERT INTO detected_sounds (detection_id, sound_id, kind, channel, start_s, end_s, carrier_hz, snr_db, confidence,
       pulse_times) VALUES (?, ?, 'train', 1, ?, ?, 260, 9, ?, ?)`,
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
    const rows = Array.from({ length: each }, (_, k) => {
      const startS = (86_000 * k) / each;
      return {
        soundId: `${stem}-t${String(k + 1).padStart(6, '0')}`,
        danceId: `${stem}-d${String(Math.floor(k / RUNS) + 1).padStart(6, '0')}`,
        startS,
        endS: startS + 0.3 + 0.8 * random.uniform(),
        confidence: random.uniform(),
      };
    });
    const version = Number(event.run(id, values.history ? detected(id, rows) : noRows).lastInsertRowid);
    const from = Number(detection.run(id).lastInsertRowid);
    for (const [k, { soundId, danceId, startS, endS, confidence }] of rows.entries()) {
      if (k % RUNS === 0) dance.run(danceId, version, id);
      const status = k % 3 === 0 ? 'accepted' : 'found';
      sound.run(soundId, version, id, startS, endS, danceId, confidence, status, from);
      if (values.history) found.run(from, soundId, startS, endS, confidence, pulses(startS, endS));
    }
  }
}

function pulses(startS: number, endS: number): Buffer {
  return packTimes(Array.from({ length: 12 }, (_, k) => startS + ((endS - startS) * (k + 0.5)) / 12));
}

interface MadeRow {
  readonly soundId: string;
  readonly danceId: string;
  readonly startS: number;
  readonly endS: number;
  readonly confidence: number;
}

/** What the event of a detection says that it did. */
function detected(recordingId: number, rows: readonly MadeRow[]): string {
  const place = { recordingId, channel: 1 };
  const sound = { pulseCount: 12, pulseRateHz: 15, carrierHz: 260, snrDb: 9, status: 'found', edited: false };
  const danceIds = new Set(rows.map(({ danceId }) => danceId));
  return JSON.stringify({
    sounds: Object.fromEntries(
      rows.map(({ soundId, ...row }) => [
        soundId,
        { ...place, kind: 'train', ...row, ...sound, detectionId: recordingId, sources: [soundId] },
      ]),
    ),
    dances: Object.fromEntries([...danceIds].map((id) => [id, { ...place, ...emptyDance }])),
  });
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
  study.store.close();
  if (values.export) await timed('export', 1, () => exportApart(at));
}

/** Runs the command in a process of its own, and tells how much memory that took. */
function exportApart(at: string): void {
  const tell = 'process.on("exit",()=>process.stderr.write(String(process.resourceUsage().maxRSS)))';
  const command = ['dist/cli/main.js', 'export', '--study', at, '--out', join(folder, 'tables')];
  const ran = spawnSync(process.execPath, ['--import', `data:text/javascript,${tell}`, ...command], {
    encoding: 'utf8',
  });
  if (ran.status !== 0) throw new Error(ran.stderr);
  process.stdout.write(`memory of the export at its highest ${Math.round(Number(ran.stderr) / 1024)} MB\n`);
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
