import { createHash } from 'node:crypto';
import { appendFile, mkdir, readFile } from 'node:fs/promises';
import { homedir } from 'node:os';
import { dirname, join } from 'node:path';
import { writeWhole } from './csv.ts';

/** A file as it was when its bytes were read through: where it really is, its length and time of change. */
export interface SeenFile {
  readonly realPath: string;
  readonly byteCount: number;
  readonly modifiedMs: number;
  /** Of its bytes. */
  readonly sha256: string;
}

const MOST_LINES = 20_000;

/**
 * The user's own note of files whose bytes were once read through on this machine. It lies outside every study: a
 * study may come from a stranger, who could write into it whatever he likes. Each line is a hash and names nothing.
 */
function notePath(): string {
  const { XDG_CACHE_HOME, LOCALAPPDATA } = process.env;
  const own =
    process.platform === 'win32'
      ? LOCALAPPDATA
      : process.platform === 'darwin'
        ? join(homedir(), 'Library', 'Caches')
        : XDG_CACHE_HOME;
  return join(own || join(homedir(), '.cache'), 'combtone', 'vouched-files');
}

const lineOf = ({ realPath, byteCount, modifiedMs, sha256 }: SeenFile): string =>
  createHash('sha256')
    .update(JSON.stringify([realPath, byteCount, modifiedMs, sha256]))
    .digest('hex');

let known: { readonly path: string; readonly lines: Set<string> } | null = null;

async function linesNow(): Promise<Set<string>> {
  const path = notePath();
  if (known?.path === path) return known.lines;
  const content = await readFile(path, 'utf8').catch(() => '');
  const all = content.split('\n').filter((line) => line !== '');
  const lines = new Set(all.slice(-MOST_LINES));
  if (all.length > 2 * MOST_LINES) await writeWhole(path, `${[...lines].join('\n')}\n`).catch(() => {});
  known = { path, lines };
  return lines;
}

/** Whether this file, unchanged since, was once found on this machine to hold those bytes. */
export async function isVouched(file: SeenFile): Promise<boolean> {
  return (await linesNow()).has(lineOf(file));
}

/** Notes that a file was read through and holds those bytes. Where nothing can be written it is read anew next time. */
export async function vouchFor(file: SeenFile): Promise<void> {
  const lines = await linesNow();
  const line = lineOf(file);
  if (lines.has(line)) return;
  lines.add(line);
  const path = notePath();
  try {
    await mkdir(dirname(path), { recursive: true, mode: 0o700 });
    await appendFile(path, `${line}\n`, { mode: 0o600 });
  } catch {}
}
