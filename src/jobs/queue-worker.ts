import { stat } from 'node:fs/promises';
import { availableParallelism, hostname } from 'node:os';
import { type Job, Worker } from 'bullmq';
import { InputError } from '../input-error.ts';
import { fileSha256 } from '../study/file-hash.ts';
import { combtoneVersion } from '../study/version.ts';
import { compileLater } from './compile-later.ts';
import { detectPool } from './detect-pool.ts';
import { MOST_TRIES, queueLookedAt, queueName, VERSIONS_KEY } from './detection-queue.ts';
import { letHeapsGrow } from './heap-growth.ts';
import { connectQueue, type QueueConnection } from './queue-connection.ts';
import { answerOf, type DetectAnswer, type DetectJob, jobSchema, pathInRoot } from './queue-jobs.ts';
import type { QueueAddress } from './queue-url.ts';

export interface QueueWorkerOptions {
  readonly address: QueueAddress;
  /** Folder of all recordings, as this machine sees it. */
  readonly root: string;
  /** Recordings searched at a time; default: one for each core. */
  readonly threads?: number;
  /** A worker that has not been heard of for so long is taken for dead, and others take its jobs, s. */
  readonly leaseS: number;
  /** Ends after so long without a job, s; default: never. */
  readonly idleS?: number;
  /** Told what a person at the machine may want to know. */
  readonly onNote: (text: string) => void;
  readonly signal: AbortSignal;
}

/**
 * Takes detection jobs from a queue until it is told to stop, or has been idle for long enough: then finishes those
 * under way and gives nothing half-done back.
 *
 * @returns jobs answered
 * @throws InputError when the queue does not answer, the root is no folder, or all jobs are for other versions
 */
export async function workQueue(options: QueueWorkerOptions): Promise<number> {
  const { address, root, threads = availableParallelism(), leaseS, idleS, onNote, signal } = options;
  await requireFolder(root);
  const connection = await connectQueue(address, onNote);
  letHeapsGrow();
  compileLater();
  const pool = detectPool({ threads, searchesToo: false });
  let answered = 0;
  let lastBusy = Date.now();
  try {
    await refuseOtherVersions(connection, address);
    const progress = new Float64Array(new SharedArrayBuffer(16));
    const detect = async ({ data }: Job): Promise<DetectAnswer> => {
      lastBusy = Date.now();
      const job = jobSchema.parse(data);
      if (job.version !== combtoneVersion) throw new Error(`a job for combtone ${job.version}`);
      const path = await samePath(root, job);
      const { settings, channels, startTime } = job;
      const task = { path, settings, channels, ...(startTime === null ? {} : { startTime }) };
      return answerOf(job, await pool.detectWhole({ ...task, progress, at: 0 }));
    };
    const worker = new Worker(queueName(), detect, {
      connection,
      concurrency: threads,
      name: `${hostname()}-${process.pid}`,
      lockDuration: 1000 * leaseS,
      stalledInterval: 1000 * leaseS,
      maxStalledCount: MOST_TRIES - 1,
    });
    // What goes wrong with the connection is told by the connection.
    worker.on('error', () => {});
    worker.on('completed', () => {
      answered++;
      lastBusy = Date.now();
    });
    worker.on('failed', (job, error) => {
      lastBusy = Date.now();
      const tries = job === undefined ? '' : ` (try ${job.attemptsMade} of ${MOST_TRIES})`;
      onNote(
        `${(job?.data as DetectJob | undefined)?.path ?? 'a job'}: ${address.withoutSecrets(error.message)}${tries}`,
      );
    });
    await worker.waitUntilReady();
    onNote(`combtone ${combtoneVersion} takes jobs from ${address.shown}`);
    await stopped(signal, () => idleS !== undefined && Date.now() - lastBusy > 1000 * idleS);
    await worker.close();
    return answered;
  } finally {
    await pool.close();
    connection.disconnect();
  }
}

async function requireFolder(root: string): Promise<void> {
  const status = await stat(root).catch(() => null);
  if (status?.isDirectory()) return;
  const found = status === null ? `${root}, which is not there` : `${root}, which is no folder`;
  throw new InputError({
    file: '--root',
    found,
    wanted: 'the folder of all recordings, as this machine sees it',
  });
}

/** A worker that no job is for would wait for ever, and nobody would know why. */
async function refuseOtherVersions(connection: QueueConnection, address: QueueAddress): Promise<void> {
  const versions = await connection.smembers(VERSIONS_KEY);
  const waiting: string[] = [];
  for (const version of versions) {
    const queue = queueLookedAt(connection, version);
    const { wait = 0, active = 0, delayed = 0 } = await queue.getJobCounts('wait', 'active', 'delayed');
    await queue.close();
    if (wait + active + delayed === 0) continue;
    if (version === combtoneVersion) return;
    waiting.push(version);
  }
  if (waiting.length === 0) return;
  throw new InputError({
    file: '--queue',
    found: `${address.shown} with jobs for combtone ${waiting.sort().join(', ')}, and none for ${combtoneVersion}`,
    wanted: 'a worker of the version that submits: another may find other things',
  });
}

/** @throws Error when the file is not there, or is not the one that was submitted */
async function samePath(root: string, job: DetectJob): Promise<string> {
  const path = pathInRoot(root, job.path);
  const status = await stat(path).catch((error: NodeJS.ErrnoException) => {
    throw new Error(`not in this worker's root (${error.code})`);
  });
  if (!status.isFile()) throw new Error("no file in this worker's root");
  if ((await fileSha256(path)) !== job.sha256) throw new Error('other bytes than were submitted');
  return path;
}

const LOOK_MS = 200;

function stopped(signal: AbortSignal, isIdle: () => boolean): Promise<void> {
  return new Promise((resolve) => {
    const looking = setInterval(() => {
      if (!signal.aborted && !isIdle()) return;
      clearInterval(looking);
      resolve();
    }, LOOK_MS);
  });
}
