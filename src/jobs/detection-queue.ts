import { Queue } from 'bullmq';
import { combtoneVersion } from '../study/version.ts';
import type { QueueConnection } from './queue-connection.ts';

/** Jobs of a version are in a queue of their own: no other version takes them, which may find other things. */
export const queueName = (version = combtoneVersion): string => `combtone-detect-${version}`;
/** Set of the versions that jobs have been submitted for. */
export const VERSIONS_KEY = 'combtone-detect:versions';
/** A job is tried this often before it is set aside with its error. */
export const MOST_TRIES = 3;

const FIRST_RETRY_MS = 500;
const WEEK_S = 7 * 86_400;
/** Each tells an answer once more, whole: ten thousand, as is usual, would take more than a gigabyte of the server. */
const MOST_EVENTS = 1;

/** The queue as a submitter opens it, which settles how it is kept. */
export function submittersQueue(connection: QueueConnection, name = queueName()): Queue {
  const queue = new Queue(name, {
    connection,
    streams: { events: { maxLen: MOST_EVENTS } },
    defaultJobOptions: {
      attempts: MOST_TRIES,
      backoff: { type: 'exponential', delay: FIRST_RETRY_MS },
      stackTraceLimit: 0,
      // Of a call that never came back.
      removeOnComplete: { age: WEEK_S },
      removeOnFail: { age: 4 * WEEK_S },
    },
  });
  queue.on('error', () => {});
  return queue;
}

/** The same, only to look at. */
export const queueLookedAt = (connection: QueueConnection, version: string): Queue =>
  new Queue(queueName(version), { connection, skipMetasUpdate: true });
