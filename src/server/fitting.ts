import { Piscina } from 'piscina';
import type { FitResult, FitTask } from './fit-worker.ts';
import type { MapResult, MapTask } from './map-worker.ts';

/** Fits calibrations and draws maps up beside the service. */
export interface Fitting {
  /** @throws the signal's reason when given up */
  readonly fit: (task: FitTask, signal?: AbortSignal) => Promise<FitResult>;
  /** @throws the signal's reason when given up */
  readonly map: (task: MapTask, signal?: AbortSignal) => Promise<MapResult>;
  readonly close: () => Promise<void>;
}

const IDLE_MS = 300_000;

// Threads run what is built: from the sources, as in tests, that is in dist.
const built = import.meta.url.endsWith('.ts') ? '../../dist/server/' : './';

/**
 * One thread, started at the first task and kept for five minutes. Tasks wait for each other; one that is given up
 * while it waits is never begun, one that runs is let run: to end the thread would cost more than the fit.
 */
export function fitting(): Fitting {
  const pool = new Piscina({
    minThreads: 0,
    maxThreads: 1,
    idleTimeout: IDLE_MS,
  });
  let before: Promise<unknown> = Promise.resolve();
  const turnOf = <Task, Result>(worker: string) => {
    const filename = new URL(`${built}${worker}`, import.meta.url).href;
    const next = async (task: Task, signal?: AbortSignal): Promise<Result> => {
      await before;
      signal?.throwIfAborted();
      return pool.run(task, { filename }) as Promise<Result>;
    };
    return (task: Task, signal?: AbortSignal): Promise<Result> => {
      const done = next(task, signal);
      before = done.catch(() => undefined);
      return done;
    };
  };
  return {
    fit: turnOf<FitTask, FitResult>('fit-worker.js'),
    map: turnOf<MapTask, MapResult>('map-worker.js'),
    close: () => pool.destroy(),
  };
}
