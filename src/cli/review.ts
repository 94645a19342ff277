import { spawn } from 'node:child_process';
import type { Command } from 'commander';
import { openStudy } from '../study/study-folder.ts';
import { portOf, serveReview } from './serve-review.ts';

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
      await serveReview(study, options, ({ url }) => {
        process.stdout.write(`${url}\n`);
        if (options.open && process.stdout.isTTY) openInBrowser(url);
      });
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
