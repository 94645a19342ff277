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
