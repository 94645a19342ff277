import { spawn } from 'node:child_process';
import { openStudy } from '../study/study-folder.ts';
import { serveReview } from './serve-review.ts';

export interface ReviewOptions {
  readonly study: string;
  readonly port: number;
  readonly host: string;
  readonly readOnly?: boolean;
  readonly open: boolean;
  readonly debug?: boolean;
}

/** Serves the review page of a study until the program is told to end, and shows it in a browser. */
export async function runReview(options: ReviewOptions): Promise<void> {
  const study = await openStudy(options.study, options.readOnly === true);
  await serveReview(study, options, ({ url }) => {
    process.stdout.write(`${url}\n`);
    if (options.open && process.stdout.isTTY) openInBrowser(url);
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
