/**
 * Kills a detection over many recordings again and again, and looks whether anything is lost or done twice.
 *
 *   npm run bench:faults -- [--files 200] [--kills 100] [--seconds 30] [--threads 2]
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { seededRandom } from '../../src/random.ts';
import { textTable } from '../../src/study/text-table.ts';
import { killDetections } from './detect-kills.ts';

const text = (value: string) => ({ type: 'string', default: value }) as const;
const { values } = parseArgs({
  options: {
    files: text('200'),
    kills: text('100'),
    seconds: text('30'),
    threads: text(String(availableParallelism())),
  },
});
const [files, kills, threads] = [Number(values.files), Number(values.kills), Number(values.threads)];
// Compiled, this file stands in .bench/tests/bench/.
const main = fileURLToPath(new URL('../../../dist/cli/main.js', import.meta.url));
const folder = await mkdtemp(join(tmpdir(), 'combtone-faults-'));
try {
  const started = performance.now();
  const figures = await killDetections({
    main,
    folder,
    files,
    lengthS: Number(values.seconds),
    kills,
    threads,
    random: seededRandom(17),
    onKill: (count, saved) => process.stderr.write(`\rkilled ${count}, ${saved} of ${files} recordings done`),
  });
  process.stderr.write('\n');
  const rows = Object.entries(figures).map(([name, value]) => [
    name.replaceAll(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`),
    Array.isArray(value) ? (value.length === 0 ? '0' : value.join('; ')) : String(value),
  ]);
  const about = `${files} recordings of ${values.seconds} s, ${threads} threads`;
  process.stdout.write(`${textTable([[about, 'found'], ...rows])}\n`);
  process.stdout.write(`${Math.round((performance.now() - started) / 1000)} s\n`);
  const { lost, savedTwice, faults, unlike } = figures;
  if (lost + savedTwice + faults.length + unlike.length > 0) process.exitCode = 1;
} finally {
  await rm(folder, { recursive: true, force: true });
}
