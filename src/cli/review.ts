import { spawn } from 'node:child_process';
import type { Command } from 'commander';
import { InputError } from '../input-error.ts';
import { type Serving, serveStudy } from '../server/server.ts';
import { type OpenStudy, openStudy } from '../study/study-folder.ts';

interface ReviewOptions {
  readonly study: string;
  readonly port: number;
  readonly host: string;
  readonly readOnly?: boolean;
  readonly open: boolean;
  readonly debug?: boolean;
}

const example = `
Example:
  $ combtone review --study summer
  prints an address with a token and opens it in the browser. Whoever has the address may review; the page loads
  nothing from elsewhere. Ends with Ctrl-C; every edit is on disk by then.
`;

/** Adds `combtone review`: the review page of a study. */
export function registerReview(program: Command): void {
  program
    .command('review')
    .description('look at, hear and correct what was detected, in the browser')
    .requiredOption('--study <folder>', 'the study')
    .option('--port <n>', 'port to listen on; 0 for any that is free', portOf, 0)
    .option(
      '--host <name>',
      'address to listen on; others than the default open it to a network',
      '127.0.0.1',
    )
    .option('--read-only', 'refuse every edit')
    .option('--no-open', 'only print the address')
    .addHelpText('after', example)
    .action(async (options: ReviewOptions) => {
      const study = await openStudy(options.study, options.readOnly === true);
      const serving = await serve(study, options);
      process.stdout.write(`${serving.url}\n`);
      if (options.open && process.stdout.isTTY) openInBrowser(serving.url);
      await untilInterrupted();
      await serving.close();
      study.store.close();
    });
}

async function serve(study: OpenStudy, { port, host, readOnly, debug }: ReviewOptions): Promise<Serving> {
  try {
    return await serveStudy(study, {
      port,
      host,
      readOnly: readOnly === true,
      onFailure: (error) => {
        const { message, stack } = error as Error;
        process.stderr.write(`combtone: ${debug ? stack : message}\n`);
      },
    });
  } catch (error) {
    study.store.close();
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'EADDRINUSE' || code === 'EACCES') {
      const found = `${port}, which ${code === 'EACCES' ? 'may not be used' : 'something else listens on'}`;
      throw new InputError({ file: '--port', found, wanted: 'a free port, or 0 for any' });
    }
    if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND' || code === 'EAI_AGAIN') {
      const found = JSON.stringify(host);
      throw new InputError({ file: '--host', found, wanted: 'a name or address of this machine' });
    }
    throw error;
  }
}

function untilInterrupted(): Promise<void> {
  return new Promise((resolve) => {
    process.once('SIGINT', () => resolve());
    process.once('SIGTERM', () => resolve());
  });
}

/** Where there is no browser the printed address will do. */
function openInBrowser(url: string): void {
  const [command, ...words] =
    process.platform === 'darwin'
      ? ['open', url]
      : process.platform === 'win32'
        ? ['cmd', '/c', 'start', '', url.replaceAll('&', '^&')]
        : ['xdg-open', url];
  const opening = spawn(command!, words, { stdio: 'ignore', detached: true });
  opening.on('error', () => {});
  opening.unref();
}

function portOf(text: string): number {
  if (/^\d{1,5}$/.test(text) && Number(text) <= 65_535) return Number(text);
  throw new InputError({ file: '--port', found: JSON.stringify(text), wanted: 'a port from 0 to 65535' });
}
