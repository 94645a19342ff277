import { mkdir, open, readFile, rename, rm, stat, truncate, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { combtone, expectRefused, temporaryFolder } from '../cli/run-combtone.ts';
import { copyOf, shortRecordings, studyCommand, studyOf, tamper } from './faulty-study.ts';

const at = temporaryFolder();
let study = '';
let recordings: string[] = [];

beforeAll(async () => {
  recordings = await shortRecordings(at('sound'), 2);
  study = await studyOf(at('study'), recordings);
});

interface Checked {
  readonly sound: boolean;
  readonly parts: readonly { readonly part: string; readonly faults: readonly string[] }[];
  readonly recordings: readonly {
    readonly path: string;
    readonly state: string;
    readonly at: string | null;
  }[];
  readonly counts: Readonly<Record<string, number>> | null;
}

async function checked(folder: string, code: number): Promise<Checked> {
  const ran = await studyCommand('check', '--study', folder, '--json');
  expect(ran.code).toBe(code);
  return JSON.parse(ran.stdout) as Checked;
}

/** All faults that a check finds, as lines. */
async function faultsOf(folder: string): Promise<string[]> {
  const { sound, parts } = await checked(folder, 1);
  expect(sound).toBe(false);
  return parts.flatMap(({ part, faults }) => faults.map((fault) => `${part}: ${fault}`));
}

/** Changes one byte of a file and leaves its length and times. */
async function flipByte(path: string, place: number): Promise<void> {
  const { atime, mtime } = await stat(path);
  const file = await open(path, 'r+');
  const byte = Buffer.alloc(1);
  await file.read(byte, 0, 1, place);
  byte[0]! ^= 0x55;
  await file.write(byte, 0, 1, place);
  await file.close();
  await utimes(path, atime, mtime);
}

describe('combtone study check', () => {
  test('finds a sound study sound, and changes nothing', async () => {
    const before = await readFile(join(study, 'study.sqlite'));
    const { sound, parts, recordings: files, counts } = await checked(study, 0);
    expect(sound).toBe(true);
    expect(parts.flatMap(({ faults }) => faults)).toEqual([]);
    expect(parts.map(({ part }) => part)).toEqual([
      'study.json',
      'study.sqlite',
      'references',
      'events',
      'rows',
      'tables',
      'recordings',
    ]);
    expect(files.map(({ state }) => state)).toEqual(['sound', 'sound']);
    expect(counts).toMatchObject({ recordings: 2, events: 2 });
    expect(counts!.sounds).toBeGreaterThan(3);
    expect(before.equals(await readFile(join(study, 'study.sqlite')))).toBe(true);
    const { code, stdout: text } = await combtone('study', 'check', study);
    expect(code).toBe(0);
    expect(text).toMatch(/sound, 2 recordings, \d+ sounds, \d+ dances?, 2 events/);
    expect(text).not.toMatch(/FAULT|NOT SOUND/);
  });

  test('wants one study', async () => {
    expectRefused(await combtone('study', 'check', at('none')), /none: found no study\.json in it/);
    await expect(studyCommand('check')).rejects.toThrow(/--study: found nothing; wanted one study folder/);
    await expect(studyCommand('check', study, '--study', study)).rejects.toThrow(/wanted one study folder/);
  });

  test('tells a recording that is missing, moved, or has other bytes, though length and time are the same', async () => {
    const folder = at('files');
    const files = await shortRecordings(join(folder, 'rec'), 5, 4);
    await studyOf(folder, files);
    await rm(files[0]!);
    await mkdir(join(folder, 'elsewhere'));
    await rename(files[1]!, join(folder, 'elsewhere', 'other-name.wav'));
    await flipByte(files[2]!, 20_000);
    await truncate(files[3]!, 1000);
    const found = await checked(folder, 1);
    expect(found.recordings).toMatchObject([
      { state: 'missing' },
      { state: 'moved', at: join(folder, 'elsewhere', 'other-name.wav') },
      { state: 'other bytes' },
      { state: 'other bytes' },
      { state: 'sound' },
    ]);
    const { stdout, code } = await studyCommand('check', folder);
    expect(code).toBe(1);
    expect(stdout).toMatch(/NOT SOUND/);
    expect(stdout).toMatch(/recordings +bytes as they were added +2 FAULTS/);
    expect(stdout).toMatch(/Missing: 1 of 5 recordings, there or nearby:\n {2}rec\/hive-001\.wav/);
    // The right bytes put back, all is sound; a missing file alone is no fault of the study.
    await rm(files[2]!);
    await rm(files[3]!);
    expect((await checked(folder, 0)).sound).toBe(true);
    expect((await studyCommand('check', folder)).stdout).toMatch(/Missing: 3 of 5/);
  });

  test('tells rows that the events did not make; --rebuild makes them again, after a copy', async () => {
    const folder = await copyOf(study, 'rows');
    const [first, second, third] = tamper(folder, (store) => {
      const ids = store.prepare('SELECT sound_id FROM sounds ORDER BY 1').pluck().all() as string[];
      store.prepare('UPDATE sounds SET start_s = start_s - 0.01 WHERE sound_id = ?').run(ids[0]);
      store.prepare('DELETE FROM sounds WHERE sound_id = ?').run(ids[1]);
      store
        .prepare(
          `INSERT INTO sounds SELECT 'ghost', version, recording_id, channel, kind, start_s, end_s, dance_id,
             pulse_count, pulse_rate_hz, carrier_hz, snr_db, confidence, status, edited, detection_id, sources
           FROM sounds WHERE sound_id = ?`,
        )
        .run(ids[2]);
      return [ids[0], ids[1], 'ghost'];
    });
    expect((await faultsOf(folder)).sort()).toEqual(
      [
        `rows: sound ${first}: not as the events make it`,
        `rows: sound ${second}: not there, though the events make it`,
        `rows: sound ${third}: there, though no event makes it`,
      ].sort(),
    );
    const { stdout: whole } = await studyCommand('check', folder, '--rebuild');
    expect(whole).toMatch(
      /Rows made again of the events; the store as it was: .*study\.sqlite\.before-rebuild/,
    );
    expect(whole).toMatch(/sound, 2 recordings/);
    expect(whole).toMatch(/Copies of the store.*\n {2}study\.sqlite\.before-rebuild/);
    // The copy has what was there before.
    await rename(join(folder, 'study.sqlite.before-rebuild'), join(folder, 'study.sqlite'));
    for (const end of ['-wal', '-shm']) await rm(join(folder, `study.sqlite${end}`), { force: true });
    expect(await faultsOf(folder)).toHaveLength(3);
    // Where nothing differs, nothing is done.
    expect((await studyCommand('check', study, '--rebuild')).stdout).not.toMatch(/made again/);
  });

  test('tells events that are gone, and makes no rows of what is left of them', async () => {
    const folder = await copyOf(study, 'events');
    tamper(folder, (store) => {
      store.exec('DROP TRIGGER events_stay');
      store.exec('DELETE FROM events WHERE event_id = 1');
    });
    const faults = await faultsOf(folder);
    expect(faults).toContain('events: events 1 to 1 are not there');
    expect(faults.some((fault) => /rows of sounds that name rows of events/.test(fault))).toBe(true);
    const { code, stderr } = await combtone('study', 'check', folder, '--rebuild');
    expect(stderr).toMatch(/^combtone: .*rows were not made again, for the events are not whole.*\n$/);
    expect(code).toBe(1);
    const last = await copyOf(study, 'last-event');
    tamper(last, (store) => {
      store.exec('DROP TRIGGER events_stay');
      store.exec('DELETE FROM events WHERE event_id = 2');
    });
    expect(await faultsOf(last)).toContain('events: events 2 to 2 are not there');
  });

  test('tells sounds whose pulses are gone', async () => {
    const folder = await copyOf(study, 'pulses');
    const id = tamper(folder, (store) => {
      const first = store.prepare('SELECT min(sound_id) FROM sounds').pluck().get() as string;
      store.prepare('DELETE FROM detected_sounds WHERE sound_id = ?').run(first);
      return first;
    });
    expect(await faultsOf(folder)).toEqual([`references: ${id}: the sounds it was made of are not there`]);
  });

  test.each([
    ['a torn page', (path: string) => tear(path, 8 * 4096, 4096)],
    ['half the file gone', async (path: string) => truncate(path, 6 * 4096)],
    ['no bytes at all', async (path: string) => truncate(path, 0)],
    ['words instead', async (path: string) => writeFile(path, 'These are words. '.repeat(1000))],
    ['no file', async (path: string) => rm(path)],
  ])('a store with %s is told in a line, exit 1, without a stack trace', async (name, harm) => {
    const folder = await copyOf(study, name.replaceAll(' ', '-'));
    for (const end of ['-wal', '-shm']) await rm(join(folder, `study.sqlite${end}`), { force: true });
    await harm(join(folder, 'study.sqlite'));
    const { code, stdout } = await studyCommand('check', folder);
    expect(code).toBe(1);
    expect(stdout).toMatch(/NOT SOUND/);
    expect(stdout).toMatch(/study\.sqlite +.* FAULTS?\n/);
    expect(stdout).toMatch(/What to do: docs\/faults\.md/);
    expect(stdout).not.toMatch(/\bat .*:\d+:\d+/);
  });

  test('looks an older store through as far as it can, and brings nothing up to date', async () => {
    const folder = await copyOf(study, 'older');
    tamper(folder, (store) => store.pragma('user_version = 0'));
    const { code, stdout } = await studyCommand('check', folder);
    expect(code).toBe(0);
    expect(stdout).toMatch(/study\.sqlite +pages and indexes; older, not yet brought up to date +sound/);
    expect(tamper(folder, (store) => store.pragma('user_version', { simple: true }))).toBe(0);
  });

  test('tells a study.json and tables that cannot be read', async () => {
    const folder = await copyOf(study, 'json');
    await writeFile(join(folder, 'study.json'), '{"format": "combtone stu');
    await writeFile(join(folder, 'feeders.csv'), 'feeder_id,distance_m\nreed,far\n');
    const faults = await faultsOf(folder);
    expect(faults.join('\n')).toMatch(
      /study\.json: .*found no JSON[\s\S]*tables: .*feeders\.csv.*found "far"/,
    );
  });
});

async function tear(path: string, place: number, length: number): Promise<void> {
  const file = await open(path, 'r+');
  await file.write(Buffer.alloc(length, 0xa5), 0, length, place);
  await file.close();
}
