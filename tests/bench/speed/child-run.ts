import { spawn } from 'node:child_process';
import { performance } from 'node:perf_hooks';
import type { ChildRun } from './benchmark.ts';

/** Read by Node before the script: at its end the process tells on channel 3 what it has used. */
const REPORT = `data:text/javascript,${encodeURIComponent(`
  import { writeSync } from 'node:fs';
  process.on('exit', () => {
    const { maxRSS, userCPUTime, systemCPUTime } = process.resourceUsage();
    writeSync(3, JSON.stringify({ maxRSS, processor: userCPUTime + systemCPUTime }));
  });
`)}`;

/**
 * Runs a script under Node in a process of its own and measures it from outside and inside.
 *
 * @throws Error when it ends with another code than 0
 */
export function childRun(script: string, args: readonly string[]): Promise<ChildRun> {
  return new Promise((resolve, reject) => {
    const started = performance.now();
    const child = spawn(process.execPath, ['--import', REPORT, script, ...args], {
      stdio: ['ignore', 'ignore', 'pipe', 'pipe'],
    });
    let stderr = '';
    let report = '';
    child.stderr?.on('data', (text) => {
      stderr += text;
    });
    child.stdio[3]?.on('data', (text) => {
      report += text;
    });
    child.on('error', reject);
    child.on('close', (code) => {
      const wallS = (performance.now() - started) / 1000;
      if (code !== 0) return reject(new Error(`${script} ${args.join(' ')} ended with ${code}: ${stderr}`));
      const { maxRSS, processor } = JSON.parse(report) as { maxRSS: number; processor: number };
      resolve({ wallS, processorS: processor / 1e6, peakMib: maxRSS / 1024 });
    });
  });
}
