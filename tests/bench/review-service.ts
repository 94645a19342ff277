/**
 * How quickly the review service answers on a day's recording: 24 h at 44.1 kHz, tiled from simulated sound, with
 * 20 000 trains. Takes 8 GB in a temporary folder. Prints medians, worst and mean
 * processor time (client and service together), ms.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { seededRandom } from '../../src/random.ts';
import { serveStudy } from '../../src/server/server.ts';
import { saveDetection } from '../../src/study/store/detections.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { dayOfTrains, dayRecording } from './day-study.ts';

const { values } = parseArgs({ options: { hours: { type: 'string', default: '24' } } });
const hours = Number(values.hours);
const random = seededRandom(5);
const folder = await mkdtemp(join(tmpdir(), 'combtone-day-'));
try {
  await run();
} finally {
  await rm(folder, { recursive: true, force: true });
}

async function run(): Promise<void> {
  const path = await dayRecording(folder, hours);
  await initStudy(join(folder, 'study'), newSettings('day'));
  const study = await openStudy(join(folder, 'study'));
  await timed('add the recording (hash)', 1, () => addRecording(study, path));
  const sounds = dayOfTrains(hours, random);
  await timed(`take ${sounds.length} sounds in`, 1, async () =>
    saveDetection(study.store, {
      recordingId: 1,
      settingsHash: 'bench',
      settings: {},
      combtoneVersion: 'bench',
      sounds,
    }),
  );
  const serving = await serveStudy(study);
  const headers = { authorization: `Bearer ${serving.token}`, 'content-type': 'application/json' };
  const at = `http://127.0.0.1:${serving.port}`;
  const get = async (where: string) => (await fetch(at + where, { headers })).arrayBuffer();
  const somewhere = (lengthS: number) => {
    const from = Math.floor(random.uniform() * (3600 * hours - lengthS));
    return `from=${from}&to=${from + lengthS}`;
  };
  await timed('first spectrogram, 10 s', 1, () => get(`/api/recordings/1/spectrogram?${somewhere(10)}`));
  for (const lengthS of [1, 10, 30, 60]) {
    await timed(`spectrogram elsewhere, ${lengthS} s`, 25, () =>
      get(`/api/recordings/1/spectrogram?${somewhere(lengthS)}`),
    );
  }
  await timed('audio, 10 s', 25, () => get(`/api/recordings/1/audio?${somewhere(10)}`));
  await timed('window rows, 60 s', 25, () => get(`/api/recordings/1/window?${somewhere(60)}`));
  await timed('ribbon', 10, () => get('/api/recordings/1/ribbon'));
  await timed('queue, 200 rows', 10, () => get('/api/queue'));
  await timed('queue, by time, last page', 10, () => get('/api/queue?order=time&offset=19800'));
  await timed('study', 10, () => get('/api/study'));
  await timed('all dances', 5, () => get('/api/dances'));
  let k = 0;
  await timed('edit', 100, async () => {
    const id = `day-t${String(++k).padStart(4, '0')}`;
    const edit = { kind: 'accept', targets: [{ id, version: 1 }] };
    const body = JSON.stringify({ reviewer: 'bench', edit });
    const { status } = await fetch(`${at}/api/edits`, { method: 'POST', headers, body });
    if (status !== 200) throw new Error(`edit of ${id}: ${status}`);
  });
  const body = JSON.stringify({ reviewer: 'bench' });
  await timed('undo', 50, () => fetch(`${at}/api/undo`, { method: 'POST', headers, body }));
  await serving.close();
  study.store.close();
}

async function timed(what: string, times: number, act: () => Promise<unknown>): Promise<void> {
  const took: number[] = [];
  const cpu = process.cpuUsage();
  for (let round = 0; round < times; round++) {
    const began = performance.now();
    await act();
    took.push(performance.now() - began);
  }
  took.sort((a, b) => a - b);
  const median = took[took.length >> 1]!.toFixed(1);
  // On a busy machine the time that the processor was at it says more.
  const { user, system } = process.cpuUsage(cpu);
  const busy = ((user + system) / 1000 / times).toFixed(1);
  process.stdout.write(
    `${what.padEnd(32)} median ${median.padStart(8)}  worst ${took.at(-1)!.toFixed(1).padStart(8)}  processor ${busy}\n`,
  );
}
