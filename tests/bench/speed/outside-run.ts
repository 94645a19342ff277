import { spawn } from 'node:child_process';
import { performance } from 'node:perf_hooks';

/**
 * Runs a program that is no part of this one and measures it from outside.
 *
 * @returns null where it is not installed, or ended with another code than 0
 */
export function outsideRun(
  program: string,
  args: readonly string[],
): Promise<{ readonly wallS: number; readonly output: string } | null> {
  return new Promise((resolve) => {
    const started = performance.now();
    const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'ignore'] });
    let output = '';
    child.stdout.on('data', (text) => {
      output += text;
    });
    child.on('error', () => resolve(null));
    child.on('close', (code) => {
      const wallS = (performance.now() - started) / 1000;
      resolve(code === 0 ? { wallS, output: output.trim() } : null);
    });
  });
}
