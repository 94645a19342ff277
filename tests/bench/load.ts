/**
 * Eight reviewers at work on a study while a detection runs on it: windows with their spectrograms, edits, undo, the
 * queue, an event stream each. Tells medians and 99th percentiles of each kind of request, errors, and the memory of the
 * service at the start and the end. Wanted: windows under 500 ms at the 99th percentile, no error, memory that does not
 * grow.
 *
 * npm run bench:load -- --minutes 10
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { parseArgs } from 'node:util';
import { type Random, seededRandom } from '../../src/random.ts';
import type { Queue, WindowRows } from '../../src/server/api.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { detectStudy } from '../../src/study/study-detect.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';

const { values } = parseArgs({
  options: {
    minutes: { type: 'string', default: '10' },
    reviewers: { type: 'string', default: '8' },
    /** Without a detection meanwhile, to tell what it costs. */
    calm: { type: 'boolean', default: false },
    /** Of each of the two recordings. */
    'recording-minutes': { type: 'string', default: '20' },
  },
});
const endS = 60 * Number(values.minutes);
const lengthS = 60 * Number(values['recording-minutes']);
const MAIN = join(process.cwd(), 'dist/cli/main.js');

const took = new Map<string, number[]>();
const errors: string[] = [];
let conflicts = 0;
let heard = 0;

const folder = await mkdtemp(join(tmpdir(), 'combtone-load-'));
try {
  await run(join(folder, 'study'));
} finally {
  await rm(folder, { recursive: true, force: true });
}

async function run(at: string): Promise<void> {
  await makeStudy(at);
  const review = spawn(process.execPath, [MAIN, 'review', '--study', at, '--no-open'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const url = new URL(await firstLine(review));
  const detecting = values.calm ? { stop: async () => 0 } : keepDetecting(at);
  const began = performance.now();
  const isOver = () => performance.now() - began > 1000 * endS;
  await sleep(3000);
  const memory = [memoryMb(review.pid!)];
  const watching = (async () => {
    while (!isOver()) {
      await sleep(1000 * Math.min(15, endS / 8));
      memory.push(memoryMb(review.pid!));
    }
  })();
  const reviewers = Array.from({ length: Number(values.reviewers) }, (_, k) =>
    reviewer(url, `reviewer-${k + 1}`, seededRandom(100 + k), isOver),
  );
  await Promise.all([...reviewers, watching]);
  const detections = await detecting.stop();
  report(memory, detections);
  review.kill('SIGTERM');
  await new Promise((resolve) => review.once('exit', resolve));
}

async function makeStudy(at: string): Promise<void> {
  await initStudy(at, newSettings('load'));
  await writeFile(join(at, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\nalder,350\n');
  const study = await openStudy(at);
  for (const [name, seed] of [
    ['first', 61],
    ['second', 62],
  ] as const) {
    const { recordingPath } = await simulateHive(at, name, { seed, lengthS, snrDb: 10, dancesPerHour: 120 });
    await addRecording(study, recordingPath);
  }
  await detectStudy(study);
  study.store.close();
}

function firstLine(child: ChildProcess): Promise<string> {
  return new Promise((resolve, reject) => {
    let text = '';
    child.stdout!.on('data', (part) => {
      text += String(part);
      if (text.includes('\n')) resolve(text.split('\n')[0]!);
    });
    child.once('exit', () => reject(new Error('the service ended before it began')));
  });
}

/** Detects again and again, each time with another band, so that all is done anew. */
function keepDetecting(at: string) {
  let going = true;
  let done = 0;
  const bands = ['200-400', '190-400', '200-410', '190-410'];
  const loop = (async () => {
    while (going) {
      const args = [MAIN, 'detect', '--study', at, '--band', bands[done % bands.length]!];
      const child = spawn(process.execPath, args, { stdio: ['ignore', 'ignore', 'pipe'] });
      let said = '';
      child.stderr!.on('data', (part) => {
        said += String(part);
      });
      const code = await new Promise<number | null>((resolve) => child.once('exit', resolve));
      if (code !== 0) errors.push(`detect ended with ${code}: ${said.slice(-300)}`);
      done++;
    }
  })();
  return {
    stop: async () => {
      going = false;
      await loop;
      return done;
    },
  };
}

async function reviewer(url: URL, name: string, random: Random, isOver: () => boolean): Promise<void> {
  const headers = {
    authorization: `Bearer ${url.searchParams.get('token')}`,
    'content-type': 'application/json',
  };
  const stop = new AbortController();
  void listen(url, headers, stop.signal);
  const ask = async (kind: string, path: string, body?: unknown): Promise<unknown> => {
    const began = performance.now();
    try {
      const init = body === undefined ? { headers } : { headers, method: 'POST', body: JSON.stringify(body) };
      const response = await fetch(new URL(path, url), init);
      const bytes = await response.arrayBuffer();
      const all = took.get(kind) ?? [];
      took.set(kind, all);
      all.push(performance.now() - began);
      // Somebody was faster, or a detection has taken the row away: answers like others.
      if (response.status === 409) conflicts++;
      else if (response.status !== 200 && !(kind === 'edit' && response.status === 400)) {
        errors.push(`${kind}: ${response.status} ${Buffer.from(bytes).toString('utf8', 0, 200)}`);
      }
      const isJson = response.headers.get('content-type')?.includes('json') === true;
      return response.status === 200 && isJson ? JSON.parse(Buffer.from(bytes).toString('utf8')) : null;
    } catch (error) {
      errors.push(`${kind}: ${(error as Error).message}`);
      return null;
    }
  };
  while (!isOver()) {
    const recordingId = 1 + random.below(2);
    const queue = (await ask(
      'queue page',
      `/api/queue?recordingId=${recordingId}&limit=200`,
    )) as Queue | null;
    for (let step = 0; step < 5 && !isOver(); step++) {
      const item = queue?.items[random.below(Math.max(1, queue.items.length))];
      const from = Math.max(0, (item?.startS ?? random.uniform() * lengthS) - 5);
      const span = `from=${from}&to=${from + 10}`;
      const [rows] = (await Promise.all([
        ask('window rows', `/api/recordings/${recordingId}/window?${span}`),
        ask('window spectrogram', `/api/recordings/${recordingId}/spectrogram?${span}`),
      ])) as [WindowRows | null, unknown];
      const sound = rows?.sounds.find(({ id }) => id === item?.id) ?? rows?.sounds[0];
      if (sound !== undefined) {
        const targets = [{ id: sound.id, version: sound.version }];
        const kind = random.below(2) === 0 ? 'accept' : 'reject';
        await ask('edit', '/api/edits', { reviewer: name, edit: { kind, targets } });
        if (random.below(3) === 0) await ask('undo', '/api/undo', { reviewer: name });
        if (sound.danceId !== null) await ask('dance', `/api/dances/${sound.danceId}`);
      }
      if (step === 0) await ask('ribbon', `/api/recordings/${recordingId}/ribbon`);
      // A reviewer looks and listens.
      await sleep(300 + random.below(900));
    }
  }
  stop.abort();
}

async function listen(url: URL, headers: Record<string, string>, signal: AbortSignal): Promise<void> {
  try {
    const response = await fetch(new URL('/api/events', url), { headers, signal });
    for await (const part of response.body!) heard += (part as Uint8Array).length;
    if (!signal.aborted) errors.push('an event stream ended');
  } catch (error) {
    if (!signal.aborted) errors.push(`event stream: ${(error as Error).message}`);
  }
}

/** Resident memory of a process; by Linux's own account. */
function memoryMb(pid: number): number {
  const [, kb] = /VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))!;
  return Math.round(Number(kb) / 1024);
}

function report(memory: readonly number[], detections: number): void {
  const line = (text: string) => process.stdout.write(`${text}\n`);
  for (const [kind, all] of [...took].sort()) {
    const sorted = [...all].sort((a, b) => a - b);
    const at = (share: number) =>
      sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]!.toFixed(0).padStart(6);
    line(
      `${kind.padEnd(20)} ${String(all.length).padStart(6)} asked   median ${at(0.5)} ms   99 % ${at(0.99)} ms   worst ${at(1)} ms`,
    );
  }
  line(
    `errors ${errors.length}, edits that lost a race ${conflicts}, ${Math.round(heard / 1024)} kB of events heard`,
  );
  for (const error of [...new Set(errors)].slice(0, 10)) line(`  ${error}`);
  line(`memory of the service, MB: ${memory.join(' ')}`);
  line(`detections of the study meanwhile: ${detections}`);
}
