import { oneLine } from '../input-error.ts';
import type { QueueAddress } from '../jobs/queue-url.ts';
import { workQueue } from '../jobs/queue-worker.ts';
import { interruption } from './interruption.ts';

export interface WorkerOptions {
  readonly queue: QueueAddress;
  readonly root: string;
  readonly threads?: number;
  readonly lease: number;
  readonly idle?: number;
}

/** Answers jobs of a queue until told to end, and prints how many they were. */
export async function runWorker({ queue, root, threads, lease, idle }: WorkerOptions): Promise<void> {
  const { signal, release } = interruption();
  const onNote = (text: string) => void process.stderr.write(`combtone: ${oneLine(text)}\n`);
  signal.addEventListener('abort', () => onNote('finishing what is under way; once more to end at once'));
  try {
    const answered = await workQueue({
      address: queue,
      root,
      leaseS: lease,
      onNote,
      signal,
      ...(threads === undefined ? {} : { threads }),
      ...(idle === undefined ? {} : { idleS: idle }),
    });
    process.stdout.write(`${answered} ${answered === 1 ? 'job' : 'jobs'} answered\n`);
  } finally {
    release();
  }
}
