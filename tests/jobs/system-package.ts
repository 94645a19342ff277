import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

/**
 * Installs a Debian package that some tests want, where this may be done without asking anybody: by root, on a system
 * with apt-get. Tried once in a run of tests, however many of its processes ask: the others wait for the first.
 *
 * Whether it worked is not told: who asks looks for the program again.
 *
 * @param limitS given up after this long, s
 */
export async function installOnce(name: string, limitS: number): Promise<void> {
  if (process.getuid?.() !== 0 || !existsSync('/usr/bin/apt-get')) return;
  // All processes of a run are started by one.
  const claim = join(tmpdir(), `combtone-tests-${name}-${process.ppid}`);
  const done = join(claim, 'done');
  const first = await mkdir(claim).then(
    () => true,
    () => false,
  );
  if (!first) {
    for (const end = Date.now() + 1000 * limitS; !existsSync(done) && Date.now() < end; ) await sleep(250);
    return;
  }
  process.stderr.write(`tests: trying to install the system's package ${name}, for at most ${limitS} s\n`);
  const install = `apt-get install -qq -y --no-install-recommends -o DPkg::Lock::Timeout=${limitS} ${name}`;
  // A system without lists of packages gets them first.
  const commands = `${install} || { apt-get update -qq && ${install}; }`;
  const child = spawn('timeout', [String(limitS), 'sh', '-c', commands], {
    stdio: 'ignore',
    // Nothing is asked, and no service is started by it.
    env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive', RUNLEVEL: '1' },
  });
  await once(child, 'exit').catch(() => {});
  await writeFile(done, '');
}
