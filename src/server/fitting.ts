import { Piscina } from 'piscina';
import type { FitResult, FitTask } from './fit-worker.ts';

/** Fits calibrations beside the service. */
export interface Fitting {
  /** @throws the signal's reason when given up */
  readonly fit: (task: FitTask, signal?: AbortSignal) => Promise<FitResult>;
  readonly close: () => Promise<void>;
}

const IDLE_MS = 300_000;

// Threads run what is built: from the sources, as in tests, that is in dist.
const built = import.meta.url.endsWith('.ts') ? '../../dist/server/' : './';

/**
 * One thread, started at the first fit and kept for five minutes. Fits wait for each other; one that is given up
 * while it waits is never begun, one that runs is let run: to end the thread would cost more than the fit.
 */
export function fitting(): Fitting {
  const pool = new Piscina<FitTask, FitResult>({
    filename: new URL(`${built}fit-worker.js`, import.meta.url).href,
    minThreads: 0,
    maxThreads: 1,
    idleTimeout: IDLE_MS,
  });
  let before: Promise<unknown> = Promise.resolve();
  const next = async (task: FitTask, signal?: AbortSignal): Promise<FitResult> => {
    await before;
    signal?.throwIfAborted();
    return pool.run(task);
  };
  return {
    fit: (task, signal) => {
      const fit = next(task, signal);
      before = fit.catch(() => undefined);
      return fit;
    },
    close: () => pool.destroy(),
  };
}
