import { Redis } from 'ioredis';
import { InputError } from '../input-error.ts';
import type { QueueAddress } from './queue-url.ts';

/** Connected to a Redis server. */
export type QueueConnection = Redis;

const LONGEST_WAIT_MS = 2000;
const MOST_FIRST_TRIES = 3;

/**
 * Connects to a queue. Once it has answered, it is waited for whenever it is away, for as long as that takes: a
 * queue that restarts costs time and nothing else.
 *
 * @param onState told when it is away and when it is back
 * @throws InputError when it does not answer at the start, or refuses the password
 */
export async function connectQueue(
  address: QueueAddress,
  onState: (text: string) => void,
): Promise<QueueConnection> {
  let answered = false;
  let away = false;
  let lastError: Error = new Error('no answer');
  const connection = new Redis(address.url, {
    lazyConnect: true,
    // Whatever is asked waits for the queue to come back; bullmq wants it so.
    maxRetriesPerRequest: null,
    retryStrategy: (tries: number) =>
      answered || tries < MOST_FIRST_TRIES ? Math.min(100 * 2 ** tries, LONGEST_WAIT_MS) : null,
  });
  connection.on('error', (error: Error) => {
    lastError = error;
    if (!answered || away) return;
    away = true;
    onState(`${address.shown} does not answer (${address.withoutSecrets(error.message)}): waiting for it`);
  });
  connection.on('ready', () => {
    if (away) onState(`${address.shown} answers again`);
    away = false;
    answered = true;
  });
  const ready = new Promise<void>((resolve, reject) => {
    connection.once('ready', resolve);
    connection.once('end', () => reject(lastError));
  });
  connection.connect().catch(() => {});
  try {
    await ready;
    return connection;
  } catch (error) {
    connection.disconnect();
    const why = address.withoutSecrets((error as Error).message || String((error as { code?: string }).code));
    throw new InputError({
      file: '--queue',
      found: `${address.shown}, which does not let combtone in (${why})`,
      wanted: 'a Redis server that answers, with its user and password',
    });
  }
}
