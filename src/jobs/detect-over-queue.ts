import { setTimeout as sleep } from 'node:timers/promises';
import type { Job, Queue } from 'bullmq';
import { InputError } from '../input-error.ts';
import type { DetectAll, DetectAllOptions, RecordingOutcome, RecordingTask } from '../study/detect-all.ts';
import { fileSha256 } from '../study/file-hash.ts';
import { combtoneVersion } from '../study/version.ts';
import { MOST_TRIES, submittersQueue, VERSIONS_KEY } from './detection-queue.ts';
import { connectQueue } from './queue-connection.ts';
import { type DetectJob, jobId, jobOf, outcomeOfAnswer } from './queue-jobs.ts';
import type { QueueAddress } from './queue-url.ts';

export interface QueueOptions {
  readonly address: QueueAddress;
  /** Folder of all recordings, as this machine sees it. */
  readonly root: string;
  readonly onNote: (text: string) => void;
}

/** Jobs in the queue at a time: more than a lab has cores, few enough that their answers fit in its memory. */
const JOBS_AHEAD = 1000;
const LOOK_MS = 100;
const WORKER_NOTE_MS = 5000;

/**
 * Detection by workers on other machines. Recordings are submitted in their order and what was found is taken from
 * the queue in the same order, by this call alone, so that it is written once. Whatever the queue has lost is
 * submitted again. Ended before its time, jobs stay in the queue, and the same call made again takes their answers.
 */
export function detectOverQueue({ address, root, onNote }: QueueOptions): DetectAll {
  return async function* (tasks, options) {
    const connection = await connectQueue(address, onNote);
    const queue = submittersQueue(connection);
    try {
      await connection.sadd(VERSIONS_KEY, combtoneVersion);
      const noteWorkers = workerNote(queue, address, onNote);
      yield* inOrder(tasks, options, (task) => submitted(queue, task, root), noteWorkers);
    } finally {
      await queue.close().catch(() => {});
      connection.disconnect();
    }
  };
}

/** A recording in the queue. */
interface Submitted {
  /** The outcome once it is there, else null; submits again what the queue does not know any more. */
  readonly look: () => Promise<RecordingOutcome | null>;
  /** To be called when the outcome has been kept. */
  readonly forget: () => Promise<void>;
}

async function* inOrder(
  tasks: readonly RecordingTask[],
  { onProgress, signal }: DetectAllOptions,
  submit: (task: RecordingTask) => Promise<Submitted | InputError>,
  whileWaiting: () => Promise<void>,
): AsyncGenerator<RecordingOutcome> {
  const ahead: (Submitted | InputError)[] = [];
  let next = 0;
  for (let k = 0; k < tasks.length; k++) {
    let outcome: RecordingOutcome | null = null;
    for (;;) {
      signal?.throwIfAborted();
      // A batch at a time: what is done is not to wait for a thousand submissions.
      for (let batch = 0; batch < 20 && next < tasks.length && ahead.length < JOBS_AHEAD; batch++) {
        ahead.push(await submit(tasks[next++]!));
      }
      const first = ahead[0]!;
      outcome = first instanceof InputError ? { ok: false, error: first } : await first.look();
      if (outcome !== null) break;
      if (next < tasks.length && ahead.length < JOBS_AHEAD) continue;
      await whileWaiting();
      await sleep(LOOK_MS, undefined, signal === undefined ? {} : { signal });
    }
    const first = ahead.shift()!;
    const durationS = outcome.ok ? outcome.found.info.durationS : 0;
    onProgress?.(k, durationS, Math.max(durationS, 1e-3));
    yield outcome;
    if (!(first instanceof InputError)) await first.forget();
  }
}

async function submitted(queue: Queue, task: RecordingTask, root: string): Promise<Submitted | InputError> {
  let job: DetectJob;
  try {
    job = jobOf(task, task.sha256 ?? (await requireSha256(task.path)), root);
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
  const id = jobId(job);
  const add = () => queue.add('detect', job, { jobId: id });
  const known = await queue.getJob(id);
  // Set aside by an earlier call: this one tries it again.
  if (known !== undefined && (await known.isFailed())) await known.remove();
  await add();
  return {
    look: async () => {
      const now = await queue.getJob(id);
      if (now !== undefined) return outcomeOfJob(now, job, task.path);
      await add();
      return null;
    },
    forget: async () => {
      // By its id alone: the job itself would bring the answer once more.
      if ((await queue.getJobState(id)) === 'completed') await queue.remove(id);
    },
  };
}

async function outcomeOfJob(job: Job, asked: DetectJob, path: string): Promise<RecordingOutcome | null> {
  if (job.finishedOn === undefined) return null;
  if (await job.isCompleted()) return outcomeOfAnswer(asked, path, job.returnvalue);
  if (!(await job.isFailed())) return null;
  const why = job.failedReason === '' ? 'no reason told' : job.failedReason;
  const error = new Error(
    `${path}: set aside after ${MOST_TRIES} tries: ${why}; the same call tries it again`,
  );
  return { ok: false, error };
}

async function requireSha256(path: string): Promise<string> {
  try {
    return await fileSha256(path);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const found = code === 'ENOENT' ? 'no such file' : `a file that cannot be read (${code})`;
    throw new InputError({ file: path, found, wanted: 'a recording' });
  }
}

/** Tells once that nobody works, which is easily forgotten. */
function workerNote(
  queue: Queue,
  { shown }: QueueAddress,
  onNote: (text: string) => void,
): () => Promise<void> {
  const started = Date.now();
  let looked = false;
  return async () => {
    if (looked || Date.now() - started < WORKER_NOTE_MS) return;
    looked = true;
    if ((await queue.getWorkersCount()) > 0) return;
    onNote(
      `no worker of combtone ${combtoneVersion} is at ${shown} yet: combtone worker --queue URL --root DIR`,
    );
  };
}
