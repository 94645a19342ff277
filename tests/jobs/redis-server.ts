import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdir } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { createServer } from 'node:net';
import { installOnce } from './system-package.ts';

const isThere = () => spawnSync('redis-server', ['--version']).error === undefined;
const INSTALL_LIMIT_S = 60;

/** Why tests of the queue cannot run here; null where they can. Tries to install what is missing. */
export async function whyNoQueue(): Promise<string | null> {
  if (!isThere()) await installOnce('redis-server', INSTALL_LIMIT_S);
  return isThere() ? null : 'no redis-server here (Debian: apt-get install redis-server)';
}

/** A Redis server of one's own. */
export interface RedisServer {
  readonly port: number;
  /** Ends at once, as in a power cut, and starts again on what its append-only file holds. */
  readonly restart: (awayMs: number) => Promise<void>;
  readonly stop: () => Promise<void>;
}

/**
 * @param folder where it keeps its append-only file; made when absent
 * @param args of its own; `--port` is chosen where none is among them
 */
export async function startRedis(folder: string, args: readonly string[] = []): Promise<RedisServer> {
  await mkdir(folder, { recursive: true });
  const at = args.indexOf('--tls-port');
  const port = at < 0 ? await freePort() : Number(args[at + 1]);
  const own = at < 0 ? ['--port', String(port)] : ['--port', '0'];
  const keep = ['--dir', folder, '--save', '', '--appendonly', 'yes', '--appendfsync', 'always'];
  let child = await started([...own, ...keep, ...args]);
  const end = async (signal: NodeJS.Signals) => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    const ended = once(child, 'exit');
    child.kill(signal);
    await ended;
  };
  return {
    port,
    restart: async (awayMs) => {
      await end('SIGKILL');
      await new Promise((resolve) => setTimeout(resolve, awayMs));
      child = await started([...own, ...keep, ...args]);
    },
    stop: () => end('SIGTERM'),
  };
}

async function started(args: readonly string[]): Promise<ChildProcess> {
  const child = spawn('redis-server', ['--bind', '127.0.0.1', ...args], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let log = '';
  await new Promise<void>((resolve, reject) => {
    child.stdout.on('data', (text) => {
      log += text;
      if (log.includes('Ready to accept connections')) resolve();
    });
    child.once('exit', () => reject(new Error(`redis-server ended: ${log}`)));
  });
  return child;
}

export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  return port;
}
