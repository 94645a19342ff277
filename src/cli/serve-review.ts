import { InputError, oneLine } from '../input-error.ts';
import { type Serving, serveStudy } from '../server/server.ts';
import { storeFault } from '../study/store/store-fault.ts';
import type { OpenStudy } from '../study/study-folder.ts';

export interface ReviewAddress {
  readonly host: string;
  readonly port: number;
  /** Takes any free port where the one wanted is taken. */
  readonly orAnyPort?: boolean;
  readonly readOnly?: boolean;
  readonly debug?: boolean;
}

/**
 * Serves the review page of a study until the program is told to end, then closes the study.
 *
 * @param onReady told when the page can be opened; `instead` when another port than the wanted one had to do
 * @throws InputError when the address cannot be listened on
 */
export async function serveReview(
  study: OpenStudy,
  address: ReviewAddress,
  onReady: (serving: Serving, instead: boolean) => void,
): Promise<void> {
  // From here on a signal ends the service in good order, even one that comes while it starts.
  const ended = untilEnded();
  try {
    const { serving, instead } = await listen(study, address);
    onReady(serving, instead);
    await ended;
    await serving.close();
  } finally {
    study.store.close();
  }
}

async function listen(study: OpenStudy, address: ReviewAddress) {
  try {
    return { serving: await serve(study, address), instead: false };
  } catch (error) {
    const taken = ['EADDRINUSE', 'EACCES'].includes((error as NodeJS.ErrnoException).code ?? '');
    if (taken && address.orAnyPort) {
      return { serving: await serve(study, { ...address, port: 0 }), instead: true };
    }
    throw refusal(error as NodeJS.ErrnoException, address);
  }
}

function serve(study: OpenStudy, { port, host, readOnly, debug }: ReviewAddress): Promise<Serving> {
  return serveStudy(study, {
    port,
    host,
    readOnly: readOnly === true,
    onFailure: (error) => {
      const { message, stack } = error as Error;
      process.stderr.write(`combtone: ${debug ? stack : oneLine(storeFault(error) ?? message)}\n`);
    },
  });
}

function refusal(error: NodeJS.ErrnoException, { port, host }: ReviewAddress): Error {
  const { code } = error;
  if (code === 'EADDRINUSE' || code === 'EACCES') {
    const found = `${port}, which ${code === 'EACCES' ? 'may not be used' : 'something else listens on'}`;
    return new InputError({ file: '--port', found, wanted: 'a free port, or 0 for any' });
  }
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND' || code === 'EAI_AGAIN') {
    const found = JSON.stringify(host);
    return new InputError({ file: '--host', found, wanted: 'a name or address of this machine' });
  }
  return error;
}

function untilEnded(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => resolve());
    // Nobody reads the address any more, as where it was piped into a program that has ended.
    if (process.stdout.destroyed) resolve();
    process.stdout.once('error', () => resolve());
  });
}
