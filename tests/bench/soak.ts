/**
 * One long recording through `combtone detect`, its memory looked at all the while: after the first sixth it must stay
 * within ±10 % of its mean. The sound is simulated, each hour with a seed of its own.
 *
 *   npm run bench:soak -- [--hours 6] [--rate 8000] [--threads 1] [--every 2]
 */
import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { createWaveWriter } from '../../src/recording/index.ts';
import { simulateSound } from '../../src/simulate/index.ts';

const text = (value: string) => ({ type: 'string', default: value }) as const;
const { values } = parseArgs({
  options: { hours: text('6'), rate: text('8000'), threads: text('1'), every: text('2') },
});
const [hours, sampleRateHz, everyS] = [Number(values.hours), Number(values.rate), Number(values.every)];
const SETTLED_AFTER = 1 / 6;
const FLAT = 0.1;
/** Simulated at once. */
const PIECE_S = 600;
// Compiled, this file stands in .bench/tests/bench/.
const main = fileURLToPath(new URL('../../../dist/cli/main.js', import.meta.url));
const folder = await mkdtemp(join(tmpdir(), 'combtone-soak-'));
try {
  const path = join(folder, 'hive-20310614_060000.wav');
  await simulate(path);
  const { code, rssMb, tookS, runs } = await watched(path);
  if (code !== 0) throw new Error(`combtone detect ended with ${code}`);
  process.exitCode = tell(rssMb, tookS, runs) ? 0 : 1;
} finally {
  await rm(folder, { recursive: true, force: true });
}

async function simulate(path: string): Promise<void> {
  const writer = await createWaveWriter(path, { sampleRateHz, channelCount: 1, encoding: 'pcm16' });
  const pieces = Math.round((3600 * hours) / PIECE_S);
  for (let piece = 0; piece < pieces; piece++) {
    const { channels } = await simulateSound({
      seed: 7000 + piece,
      lengthS: PIECE_S,
      sampleRateHz,
      snrDb: 9,
    });
    await writer.write(channels);
    process.stderr.write(`\rsimulated ${(((piece + 1) * PIECE_S) / 3600).toFixed(1)} h`);
  }
  await writer.finish();
  process.stderr.write('\n');
}

/** Detects in a recording, in a process of its own. */
async function watched(path: string) {
  const began = performance.now();
  const call = [main, 'detect', path, '--out', join(folder, 'found'), '--threads', values.threads, '--json'];
  const child = spawn(process.execPath, call, { stdio: ['ignore', 'pipe', 'ignore'] });
  let printed = '';
  child.stdout.setEncoding('utf8').on('data', (part: string) => {
    printed += part;
  });
  const rssMb: number[] = [];
  const timer = setInterval(() => {
    const { stdout } = spawnSync('ps', ['-o', 'rss=', '-p', String(child.pid)], { encoding: 'utf8' });
    if (Number(stdout) > 0) rssMb.push(Number(stdout) / 1024);
  }, 1000 * everyS);
  const [code] = (await once(child, 'close')) as [number];
  clearInterval(timer);
  const { trains } = code === 0 ? (JSON.parse(printed) as { trains: unknown[] }) : { trains: [] };
  return { code, rssMb, tookS: (performance.now() - began) / 1000, runs: trains.length };
}

/** @returns whether memory was flat */
function tell(rssMb: readonly number[], tookS: number, runs: number): boolean {
  const settled = rssMb.slice(Math.ceil(SETTLED_AFTER * rssMb.length));
  if (settled.length < 10) throw new Error(`memory was looked at ${settled.length} times: too few`);
  const mean = settled.reduce((sum, one) => sum + one, 0) / settled.length;
  const [least, most] = [Math.min(...settled), Math.max(...settled)];
  const third = (k: number) => {
    const part = settled.slice(
      Math.floor((k * settled.length) / 3),
      Math.floor(((k + 1) * settled.length) / 3),
    );
    return (part.reduce((sum, one) => sum + one, 0) / part.length).toFixed(0);
  };
  const spread = Math.max(most - mean, mean - least) / mean;
  process.stdout.write(
    `${hours} h of audio at ${sampleRateHz} Hz in ${tookS.toFixed(0)} s (${values.threads} thread), ${runs} runs\n` +
      `memory, looked at every ${everyS} s: highest of all ${Math.max(...rssMb).toFixed(0)} MB\n` +
      `after the first sixth: mean ${mean.toFixed(0)} MB, ${least.toFixed(0)} to ${most.toFixed(0)} MB (±${(100 * spread).toFixed(0)} %), ` +
      `means of its thirds ${[0, 1, 2].map(third).join(', ')} MB\n`,
  );
  return spread <= FLAT;
}
