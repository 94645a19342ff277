import {
  appendFile,
  copyFile,
  mkdir,
  mkdtemp,
  readdir,
  readFile,
  rm,
  stat,
  symlink,
  utimes,
  writeFile,
} from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { seededRandom } from '../../src/random.ts';
import { writeWave } from '../../src/recording/index.ts';
import { serveStudy } from '../../src/server/server.ts';
import { importStudy } from '../../src/study/export/import-study.ts';
import { writeExport } from '../../src/study/export/write-export.ts';
import { fileSha256 } from '../../src/study/file-hash.ts';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import { allRecordings, insertRecording, moveRecording } from '../../src/study/store/recordings.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import { type OpenStudy, openStudy, readPlaces } from '../../src/study/study-folder.ts';
import { addRecording, locateRecording } from '../../src/study/study-recordings.ts';
import { listRecordings } from '../../src/study/study-summary.ts';
import { studyView } from '../../src/study/study-view.ts';
import { dancesToFeeders, detect, studyFolders, twoDances } from '../study/made-study.ts';

/** A study or an export from a stranger must not make the program open, tell of or write what he does not have. */

const newStudy = studyFolders();
const cacheBefore = process.env.XDG_CACHE_HOME;
let folder = '';
let caches = 0;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-stranger-'));
});
// Each test on a machine that has seen no file yet.
beforeEach(() => {
  process.env.XDG_CACHE_HOME = join(folder, `cache-${++caches}`);
});
afterAll(async () => {
  if (cacheBefore === undefined) delete process.env.XDG_CACHE_HOME;
  else process.env.XDG_CACHE_HOME = cacheBefore;
  await rm(folder, { recursive: true, force: true });
});
const at = (...names: string[]) => join(folder, ...names);

async function sound(path: string, seed = 1): Promise<string> {
  const random = seededRandom(seed);
  const samples = Float32Array.from({ length: 8000 }, () => 0.1 * random.normal());
  await writeWave(path, { sampleRateHz: 8000, encoding: 'pcm16', channels: [samples] });
  return path;
}

/** A study whose one recording has the given place and hash, with length and time of change as the file there. */
async function claiming(name: string, path: string, sha256: string): Promise<OpenStudy> {
  const study = await newStudy(name);
  const { size, mtimeMs } = await stat(join(study.folder, path));
  insertRecording(study.store, {
    sha256,
    path,
    stem: 'hive',
    byteCount: size,
    modifiedMs: mtimeMs,
    sampleRateHz: 8000,
    channelCount: 1,
    durationS: 1,
    startTime: null,
    warnings: [],
  });
  return study;
}

const madeUp = '0'.repeat(64);
const [recordingOf, audioOf] = [
  (study: OpenStudy) => allRecordings(study.store)[0]!,
  async (study: OpenStudy) => {
    const serving = await serveStudy(study);
    const headers = { authorization: `Bearer ${serving.token}` };
    const ask = (path: string) => fetch(`http://127.0.0.1:${serving.port}${path}`, { headers });
    const audio = await ask('/api/recordings/1/audio?from=0&to=1');
    const answered = { audio: audio.status, message: await audio.text() };
    const spectrogram = (await ask('/api/recordings/1/spectrogram?from=0&to=1')).status;
    await serving.close();
    return { ...answered, spectrogram };
  },
];

describe('a study folder from a stranger', () => {
  test('names a file outside of it, with its length and time: it is not opened, nor served', async () => {
    await sound(at('private.wav'));
    const study = await claiming(
      'outside',
      join('..', '..', folder.split('/').at(-1)!, 'private.wav'),
      madeUp,
    );
    expect(await locateRecording(study, recordingOf(study))).toBeNull();
    const { audio, spectrogram, message } = await audioOf(study);
    expect([audio, spectrogram]).toEqual([400, 400]);
    expect(message).not.toContain('RIFF');
  });

  test('holds a link to a file outside of it: the same', async () => {
    await sound(at('linked.wav'));
    const study = await newStudy('link');
    await symlink(at('linked.wav'), join(study.folder, 'hive.wav'));
    study.store.close();
    const linked = await claiming('link again', '../link/hive.wav', madeUp);
    expect(await locateRecording(linked, recordingOf(linked))).toBeNull();
    const inside = await newStudy('link inside');
    await symlink(at('linked.wav'), join(inside.folder, 'hive.wav'));
    const { size, mtimeMs } = await stat(at('linked.wav'));
    const row = { sha256: madeUp, path: 'hive.wav', stem: 'hive', byteCount: size, modifiedMs: mtimeMs };
    const shape = { sampleRateHz: 8000, channelCount: 1, durationS: 1, startTime: null, warnings: [] };
    insertRecording(inside.store, { ...row, ...shape });
    expect(await locateRecording(inside, recordingOf(inside))).toBeNull();
    expect((await audioOf(inside)).audio).toBe(400);
  });

  test('does not learn whether a file is there whose length it does not know', async () => {
    await sound(at('there.wav'));
    const study = await claiming('asking', join('..', '..', folder.split('/').at(-1)!, 'there.wav'), madeUp);
    expect(listRecordings(study)[0]!.present).toBe(true);
    await appendFile(at('there.wav'), 'more');
    expect(listRecordings(study)[0]!.present).toBe(false);
  });

  test('a recording outside that its user herself added is opened at once, wherever the study goes', async () => {
    await mkdir(at('recordings'));
    const path = await sound(at('recordings', 'own.wav'), 2);
    await utimes(path, 1_900_000_000, 1_900_000_000);
    const study = await newStudy('own');
    const { recording } = await addRecording(study, path);
    expect(recording.path).toMatch(/^\.\./);
    // Other bytes with the same length and time: noticed only if it were read through again.
    const bytes = await readFile(path);
    bytes[5000]! ^= 1;
    await writeFile(path, bytes);
    await utimes(path, 1_900_000_000, 1_900_000_000);
    expect(await locateRecording(study, recording)).toBe(join(study.folder, recording.path));
  });

  test('a recording outside whose bytes are right is taken, and not read through a second time', async () => {
    const path = await sound(at('right.wav'), 3);
    const sha256 = await fileSha256(path);
    const place = join('..', '..', folder.split('/').at(-1)!, 'right.wav');
    const study = await claiming('right', place, sha256);
    expect(await locateRecording(study, recordingOf(study))).toBe(join(study.folder, place));
    const { mtimeMs } = await stat(path);
    moveRecording(study.store, 1, place, mtimeMs);
    const noted = await readFile(join(process.env.XDG_CACHE_HOME!, 'combtone', 'vouched-files'), 'utf8');
    expect(noted).toMatch(/^[0-9a-f]{64}\n$/);
    expect((await audioOf(study)).audio).toBe(200);
    expect(await readFile(join(process.env.XDG_CACHE_HOME!, 'combtone', 'vouched-files'), 'utf8')).toBe(
      noted,
    );
  });

  test('without a place for notes, files are read through each time', async () => {
    await writeFile(at('no-folder'), '');
    process.env.XDG_CACHE_HOME = at('no-folder');
    const path = await sound(at('unnoted.wav'), 4);
    const place = join('..', '..', folder.split('/').at(-1)!, 'unnoted.wav');
    const study = await claiming('unnoted', place, await fileSha256(path));
    expect(await locateRecording(study, recordingOf(study))).toBe(join(study.folder, place));
  });
});

describe('an export from a stranger', () => {
  let exported = '';
  beforeAll(async () => {
    const study = await newStudy('exported');
    const path = await sound(join(study.folder, 'hive.wav'), 9);
    const { recording } = await addRecording(study, path);
    detect(study.store, recording.id, twoDances);
    const record = calibrateDances(dancesToFeeders, { curve: 'line', runs: 'all' });
    saveCalibration(study.store, { name: 'june', reviewer: 'ada', danceIds: ['d0a'], record });
    await writeFile(join(study.folder, 'feeders.csv'), 'feeder_id,distance_m\nreed,150\n');
    exported = at('exported');
    await writeExport(exported, studyView(study, await readPlaces(study)));
  });

  let made = 0;
  /** A copy of the export in which a file is changed, imported: the new study, or what was said. */
  async function imported(change: (copy: string) => Promise<void>) {
    const number = ++made;
    const copy = at(`copy-${number}`);
    await mkdir(copy);
    for (const name of await readdir(exported)) {
      if ((await stat(join(exported, name))).isFile()) await copyFile(join(exported, name), join(copy, name));
    }
    await change(copy);
    const to = at(`imported-${number}`);
    const error = await importStudy(to, copy).then(
      () => null,
      (thrown: unknown) => thrown,
    );
    if (error !== null) expect(await readdir(to).catch(() => [])).toEqual([]);
    return { to, error };
  }
  const replaced = (name: string, from: string | RegExp, by: string) => async (copy: string) => {
    const content = await readFile(join(copy, name), 'utf8');
    const changed = content.replace(from, by);
    expect(changed).not.toBe(content);
    await writeFile(join(copy, name), changed);
  };

  test.each([
    [
      'recordings.csv',
      ',hive,hive.wav,',
      ',hive,/etc/hive.wav,',
      /row 2, column path: found "\/etc\/hive.wav"/,
    ],
    ['recordings.csv', ',hive,hive.wav,', ',hive,C:\\hive.wav,', /column path/],
    ['recordings.csv', ',hive,hive.wav,', ',hive,\\\\host\\hive.wav,', /column path/],
    ['recordings.csv', ',hive,hive.wav,', ',../../hive,hive.wav,', /column stem: found "..\/..\/hive"/],
    ['recordings.csv', ',hive,hive.wav,', ',..,hive.wav,', /column stem/],
    ['recordings.csv', /,8000,1,1,/, ',8000,1,1e308,', /column duration_s: found 1e\+308/],
    ['recordings.csv', /,8000,1,1,/, ',8000,999999,1,', /column channel_count: found 999999/],
    ['recordings.csv', /,8000,1,1,/, ',1e308,1,1,', /column sample_rate_hz/],
    ['recordings.csv', /,8000,1,1,/, ',8000,1,NaN,', /column duration_s: found "NaN"/],
    ['recordings.csv', /,8000,1,1,/, ',8000,1,-1,', /column duration_s: found -1/],
    ['trains.csv', /hive-t0001/, '__proto__', /column train_id: found "__proto__"/],
    ['trains.csv', /,10,11,/, ',1e309,11,', /column start_s/],
    ['events.csv', /,sound,hive-t0001,/, ',sound,__proto__,', /column target: found "__proto__"/],
    ['events.csv', /""startS"":10,/, '""startS"":1e999,', /column after: found no row of a sound: startS/],
    ['events.csv', /""startS"":10,/, '""startS"":""<b>"",', /column after: found no row of a sound: startS/],
    [
      'events.csv',
      /""startS"":10,/,
      '""startS"":10,""__proto__"":{""x"":1},',
      /column after: found no row of a sound/,
    ],
    ['events.csv', /""recordingId"":1,/, '""recordingId"":77,', /do not go together \(FOREIGN KEY/],
    [
      'events.csv',
      /""sources"":\[""hive-t0001""\]/,
      `""sources"":${'['.repeat(5000)}${']'.repeat(5000)}`,
      /sources/,
    ],
    ['calibrations.csv', /calibrations?[^,\n]*\.json/, '../elsewhere.json', /outside the exported study/],
    ['settings.json', /"latitude": null/, '"latitude": 1e308', /settings\.json, hive\.latitude/],
    ['settings.json', /"name": "exported"/, `"name": ${'['.repeat(100_000)}`, /settings\.json/],
  ])('with a hostile %s (case %#) makes nothing', async (name, from, by, wanted) => {
    await writeFile(at('elsewhere.json'), '{}');
    const { error } = await imported(replaced(name, from, by));
    expect(error).toBeInstanceOf(InputError);
    expect((error as Error).message).toMatch(wanted);
    expect(({} as { x?: number }).x).toBeUndefined();
  });

  test.each(['trains.csv', 'feeders.csv', 'events.csv', 'settings.json'])(
    'in which %s is a link to a file elsewhere makes nothing',
    async (name) => {
      const { error } = await imported(async (copy) => {
        await copyFile(join(copy, name), at('secret'));
        await rm(join(copy, name));
        await symlink(at('secret'), join(copy, name));
      });
      expect((error as Error).message).toMatch(/found a file outside the exported study/);
    },
  );

  test('names a recording above the folder: it is taken only for its bytes', async () => {
    const path = await sound(at('above.wav'), 9);
    const { to, error } = await imported(
      replaced('recordings.csv', ',hive,hive.wav,', ',hive,../above.wav,'),
    );
    expect(error).toBeNull();
    const study = await openStudy(to);
    expect(recordingOf(study)).toMatchObject({ path: '../above.wav', modifiedMs: -1 });
    // Other bytes of the same length, last changed at the dawn of time: not even that is believed.
    await sound(path, 10);
    await utimes(path, 0, 0);
    expect(await locateRecording(study, recordingOf(study))).toBeNull();
    await sound(path, 9);
    expect(await locateRecording(study, recordingOf(study))).toBe(path);
    study.store.close();
  });

  test('that names a hostile stem in its store writes nothing outside when exported', async () => {
    const study = await newStudy('stems');
    const path = await sound(join(study.folder, 'hive.wav'), 12);
    const { recording } = await addRecording(study, path);
    study.store
      .prepare('UPDATE recordings SET stem = ? WHERE recording_id = ?')
      .run('../../out', recording.id);
    const { files } = await writeExport(at('stems'), studyView(study, await readPlaces(study)));
    for (const file of files) expect(file.startsWith(`${at('stems')}/`)).toBe(true);
    expect(await readdir(at('stems', 'cues'))).toEqual(['.._.._out.vtt']);
  });
});
