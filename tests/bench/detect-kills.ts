import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { cp, readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import Database from 'better-sqlite3';
import type { Random } from '../../src/random.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';

export interface KillPlan {
  /** The built command. */
  readonly main: string;
  /** Empty folder to work in. */
  readonly folder: string;
  readonly files: number;
  /** Length of each recording, s. */
  readonly lengthS: number;
  readonly kills: number;
  readonly threads: number;
  readonly random: Random;
  readonly onKill?: (kills: number, saved: number) => void;
}

export interface KillFigures {
  /** Processes ended by SIGKILL while they worked. */
  readonly kills: number;
  /** Of them, before the first recording of theirs was in the study. */
  readonly beforeFirst: number;
  /** Recordings whose detection is in the study more than once. */
  readonly savedTwice: number;
  /** Recordings that a process saw in the study and that were not there after a kill. */
  readonly lost: number;
  /** Recordings that were begun again since a kill had cut them short, in all and most after one kill. */
  readonly begunAgain: number;
  readonly mostBegunAgain: number;
  /** What SQLite and `combtone study check` find wrong after kills. */
  readonly faults: readonly string[];
  /** Exported tables that differ from those of a run that nobody disturbed; times of the clock left out. */
  readonly unlike: readonly string[];
  readonly tables: number;
}

/** Told to Node before the command: writes down each recording that is opened to be searched. */
const WITNESS = `data:text/javascript,${encodeURIComponent(`
  import files from 'node:fs/promises';
  import { appendFileSync } from 'node:fs';
  import { syncBuiltinESMExports } from 'node:module';
  import { isMainThread } from 'node:worker_threads';
  const { open } = files;
  files.open = (path, ...how) => {
    if (String(path).endsWith('.wav')) appendFileSync(process.env.COMBTONE_WITNESS, (isMainThread ? 'M ' : 'T ') + path + '\\n');
    return open(path, ...how);
  };
  syncBuiltinESMExports();
`)}`;

/**
 * Detects in a study of short simulated recordings, killed with SIGKILL again and again at chance moments and begun
 * again each time, until all is done; and in a copy of the study without disturbance.
 */
export async function killDetections(plan: KillPlan): Promise<KillFigures> {
  const { main, folder, files, kills, threads, random } = plan;
  const [calm, disturbed] = await twoStudies(plan);
  await untilDone(main, calm, threads);
  const store = new Database(join(disturbed, 'study.sqlite'));
  const saved = store.prepare('SELECT recording_id FROM detections ORDER BY recording_id').pluck();
  const found = { kills: 0, beforeFirst: 0, lost: 0, begunAgain: 0, mostBegunAgain: 0 };
  const faults: string[] = [];
  let firstMs = 500;
  for (let k = 0; k < kills; k++) {
    const before = saved.all() as number[];
    if (before.length >= files) break;
    // In step with the kills, so that the work lasts until the last of them.
    const due = (files * (k + 1)) / kills - before.length;
    const wanted = Math.floor(2 * Math.max(0, due) * random.uniform());
    const begunIn = join(folder, `begun-${k}`);
    const started = performance.now();
    const child = detecting(main, disturbed, threads, begunIn);
    const ended = once(child, 'exit');
    let seen = before;
    if (wanted === 0) await Promise.race([sleep(1.2 * firstMs * random.uniform()), ended]);
    while (wanted > 0 && child.exitCode === null) {
      seen = saved.all() as number[];
      if (seen.length > before.length && seen.length < files) firstMs = performance.now() - started;
      if (seen.length >= before.length + wanted) break;
      await sleep(3);
    }
    await Promise.race([sleep(80 * random.uniform()), ended]);
    seen = saved.all() as number[];
    child.kill('SIGKILL');
    const [, signal] = (await ended) as [number | null, string | null];
    if (signal !== 'SIGKILL') continue;
    found.kills++;
    const after = saved.all() as number[];
    if (after.length === before.length) found.beforeFirst++;
    found.lost += seen.filter((id) => !after.includes(id)).length;
    const words = store.pragma('integrity_check(1)', { simple: true }) as string;
    if (words !== 'ok') faults.push(words);
    const again = Math.max(0, (await begun(begunIn, threads)) - (after.length - before.length));
    found.begunAgain += again;
    found.mostBegunAgain = Math.max(found.mostBegunAgain, again);
    plan.onKill?.(found.kills, after.length);
  }
  await untilDone(main, disturbed, threads);
  const savedTwice = (saved.all() as number[]).length - files;
  store.close();
  const check = await run(main, ['study', 'check', disturbed]);
  if (check.code !== 0) faults.push(check.stdout);
  return { ...found, savedTwice, faults, ...(await compared(main, calm, disturbed)) };
}

/** Two copies of a study, beside each other, so that both have the recordings at the same relative places. */
async function twoStudies({ folder, files, lengthS }: KillPlan): Promise<[string, string]> {
  const calm = join(folder, 'calm');
  await initStudy(calm, newSettings('kills'));
  const study = await openStudy(calm);
  for (let k = 0; k < files; k++) {
    const name = `hive-${String(k + 1).padStart(3, '0')}`;
    const options = { seed: 5000 + k, lengthS, snrDb: 12, dancesPerHour: 720 };
    const { recordingPath } = await simulateHive(join(folder, 'recordings'), name, options);
    await addRecording(study, recordingPath);
  }
  study.store.close();
  const disturbed = join(folder, 'disturbed');
  await cp(calm, disturbed, { recursive: true });
  return [calm, disturbed];
}

function detecting(main: string, study: string, threads: number, witness: string) {
  const args = ['--import', WITNESS, main, 'detect', '--study', study, '--threads', String(threads)];
  const env = { ...process.env, COMBTONE_WITNESS: witness };
  return spawn(process.execPath, args, { stdio: 'ignore', env });
}

async function untilDone(main: string, study: string, threads: number): Promise<void> {
  const { code, stderr } = await run(main, ['detect', '--study', study, '--threads', String(threads)]);
  if (code !== 0) throw new Error(`detect ended with ${code}: ${stderr}`);
}

async function run(main: string, args: readonly string[]) {
  const child = spawn(process.execPath, [main, ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let [stdout, stderr] = ['', ''];
  child.stdout.on('data', (text) => {
    stdout += text;
  });
  child.stderr.on('data', (text) => {
    stderr += text;
  });
  const [code] = (await once(child, 'close')) as [number | null];
  return { code, stdout, stderr };
}

/** How many recordings a process began to search; with threads, those that a thread of its own opened. */
async function begun(witness: string, threads: number): Promise<number> {
  const lines = (await readFile(witness, 'utf8').catch(() => '')).split('\n').filter((line) => line !== '');
  const own = lines.filter((line) => line.startsWith(threads === 1 ? 'M ' : 'T '));
  return new Set(own.map((line) => line.slice(2))).size;
}

/** Exports both studies and compares the tables, without the columns that hold clock times of the work. */
async function compared(main: string, calm: string, disturbed: string) {
  const hashes = async (study: string) => {
    const out = `${study}-tables`;
    const { code, stderr } = await run(main, ['export', '--study', study, '--out', out]);
    if (code !== 0) throw new Error(`export ended with ${code}: ${stderr}`);
    const names = (await readdir(out, { recursive: true })).filter((name) =>
      /\.(csv|vtt|geojson)$/.test(name),
    );
    const entries = names.sort().map(async (name) => {
      const text = (await readFile(join(out, name), 'utf8')).replaceAll(WORK_TIME, 'T');
      return [name, createHash('sha256').update(text).digest('hex')] as const;
    });
    return new Map(await Promise.all(entries));
  };
  const [wanted, got] = [await hashes(calm), await hashes(disturbed)];
  const names = [...new Set([...wanted.keys(), ...got.keys()])];
  return { unlike: names.filter((name) => wanted.get(name) !== got.get(name)), tables: names.length };
}

/** When a detection was made, in UTC to the millisecond; the recordings themselves have no clock times here. */
const WORK_TIME = /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z/g;
