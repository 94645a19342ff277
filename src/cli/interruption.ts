import { constants } from 'node:os';

/** Lets long work end cleanly when it is asked to: by Ctrl-C, or by a machine that wants its processors back. */
export interface Interruption {
  readonly signal: AbortSignal;
  /** 128 and the number of the signal that came, as shells have it: 130 for Ctrl-C. */
  readonly exitCode: () => number;
  /** From here on signals end the process again. */
  readonly release: () => void;
}

/** Listens for the first SIGINT or SIGTERM; a second ends the process at once. */
export function interruption(): Interruption {
  const controller = new AbortController();
  const names = ['SIGINT', 'SIGTERM'] as const;
  let code = 0;
  const handlers = names.map((name) => () => {
    code = 128 + constants.signals[name];
    release();
    controller.abort();
  });
  const release = () => names.forEach((name, k) => void process.off(name, handlers[k]!));
  names.forEach((name, k) => void process.on(name, handlers[k]!));
  return { signal: controller.signal, exitCode: () => code, release };
}

/**
 * Does work that a signal may end before its time; that is told then, and the exit code becomes the signal's.
 *
 * @param left what is said of it where it is stopped: what is left of the work
 * @returns whether it was done
 */
export async function stoppable(
  left: string,
  work: (signal: AbortSignal) => Promise<void>,
): Promise<boolean> {
  const { signal, exitCode, release } = interruption();
  try {
    await work(signal);
    return true;
  } catch (error) {
    if (!signal.aborted) throw error;
    process.stderr.write(`combtone: stopped: ${left}\n`);
    process.exitCode = exitCode();
    return false;
  } finally {
    release();
  }
}
