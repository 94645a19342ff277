import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { performance } from 'node:perf_hooks';
import { Worker } from 'bullmq';
import { submittersQueue } from '../../../src/jobs/detection-queue.ts';
import { connectQueue } from '../../../src/jobs/queue-connection.ts';
import { queueAddress } from '../../../src/jobs/queue-url.ts';
import { startRedis, whyNoQueue } from '../../jobs/redis-server.ts';
import type { Benchmark } from './benchmark.ts';

const JOBS = 2000;
/** About what an hour of a busy hive is answered with. */
const ANSWER = 'x'.repeat(150_000);

/** What the queue itself can do: jobs in which nothing is searched, with answers as long as those of an hour. */
export const queueLimit: Benchmark = {
  name: 'queue',
  about: `${JOBS} jobs without work through a Redis server of its own: the queue's own limit`,
  run: async () => {
    const why = await whyNoQueue();
    if (why !== null) {
      process.stderr.write(`queue: not measured: ${why}\n`);
      return [];
    }
    const folder = await mkdtemp(join(tmpdir(), 'combtone-queue-limit-'));
    const redis = await startRedis(folder, ['--appendfsync', 'everysec']);
    const address = queueAddress(`redis://127.0.0.1:${redis.port}`, '');
    const connection = await connectQueue(address, () => {});
    const taking = await connectQueue(address, () => {});
    const queue = submittersQueue(connection, 'limit');
    try {
      const started = performance.now();
      for (let k = 0; k < JOBS; k++)
        await queue.add('detect', { path: `day/hive-${k}.wav` }, { jobId: `d${k}` });
      const submittedS = (performance.now() - started) / 1000;
      const worker = new Worker('limit', async () => ANSWER, { connection: taking as never, concurrency: 8 });
      for (let k = 0; k < JOBS; k++) {
        for (;;) {
          const job = await queue.getJob(`d${k}`);
          if (job?.finishedOn !== undefined) break;
          await new Promise((resolve) => setTimeout(resolve, 5));
        }
        await queue.remove(`d${k}`);
      }
      const allS = (performance.now() - started) / 1000;
      const peakBytes = Number(/used_memory_peak:(\d+)/.exec(await connection.info('memory'))?.[1]);
      await worker.close();
      return [
        { name: 'jobs submitted, one after another', value: JOBS / submittedS, unit: '1/s' },
        { name: 'jobs submitted, taken, answered, collected and removed', value: JOBS / allS, unit: '1/s' },
        { name: "server's memory at the highest", value: peakBytes / 2 ** 20, unit: 'MiB' },
      ];
    } finally {
      await queue.close();
      connection.disconnect();
      taking.disconnect();
      await redis.stop();
      await rm(folder, { recursive: true, force: true });
    }
  },
};
