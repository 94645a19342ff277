import type { EventEmitter } from 'node:events';
import { InputError } from '../input-error.ts';
import type { QueueAddress } from './queue-url.ts';

/** What of a connection is asked for here; bullmq asks for the rest. */
export interface QueueConnection extends EventEmitter {
  readonly connect: () => Promise<void>;
  readonly disconnect: () => void;
  readonly duplicate: () => QueueConnection;
  readonly sadd: (key: string, member: string) => Promise<number>;
  readonly smembers: (key: string) => Promise<string[]>;
}

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
  const Redis = await loadDriver();
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

type Driver = new (url: string, options: object) => QueueConnection;

/** Loaded only where a queue is used. */
async function loadDriver(): Promise<Driver> {
  // No literal: bullmq leaves the driver to its user, and all else works without.
  const name: string = 'ioredis';
  try {
    const driver = (await import(name)) as { readonly Redis?: Driver; readonly default: Driver };
    return driver.Redis ?? driver.default;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ERR_MODULE_NOT_FOUND') throw error;
    throw new Error('a queue wants the package ioredis, which is not installed: npm install ioredis');
  }
}
