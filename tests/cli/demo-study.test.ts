import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { readdir, readFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { type DemoRecording, makeDemoStudy } from '../../src/cli/demo-study.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { demoFeeders, demoTraining } from '../../src/simulate/demo-scenario.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { detectRecording } from '../../src/study/detect-recording.ts';
import { savedCalibrations } from '../../src/study/store/calibrations.ts';
import { allRecordings } from '../../src/study/store/recordings.ts';
import { initStudy, newSettings, openStudy, readPlaces } from '../../src/study/study-folder.ts';
import { locateRecording } from '../../src/study/study-recordings.ts';
import { listDances, studyView } from '../../src/study/study-view.ts';
import { temporaryFolder } from './run-combtone.ts';

const at = temporaryFolder();
const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
const SHORTER = 4;

let demo: DemoRecording;

/** A quarter of the demo's training day, made the same way. */
beforeAll(async () => {
  const lengthS = demoTraining.lengthS! / SHORTER;
  const made = await simulateHive(at('demo'), 'training', { ...demoTraining, lengthS, dancesPerHour: 200 });
  const found = await detectRecording(made.recordingPath, { settings: DEFAULT_SETTINGS, channels: [] });
  const trueDance = (startS: number, endS: number) =>
    made.truth.dances.find((dance) => dance.start_s < endS && dance.end_s > startS);
  demo = { path: made.recordingPath, found, trueDance };
  await makeDemoStudy(at('demo/study'), [demo]);
  // As a second demo would.
  await makeDemoStudy(at('demo/study'), [demo]);
}, 120_000);

describe('the study of the demo', () => {
  test('holds recording, places, noted dances and a calibration', async () => {
    const study = await openStudy(at('demo/study'), true);
    onTestFinished(() => void study.store.close());
    const places = await readPlaces(study);
    expect(places.feeders.map(({ feederId }) => feederId)).toEqual(
      demoFeeders.map(({ feederId }) => feederId),
    );
    expect(places.openings).toHaveLength(5);
    const [recording] = allRecordings(study.store);
    expect(await locateRecording(study, recording!)).toBe(at('demo/training.wav'));
    const noted = listDances(studyView(study, places)).filter(({ beeId }) => beeId !== null);
    expect(noted.length).toBeGreaterThan(10);
    for (const dance of noted) {
      expect(dance.combAngleDeg).toBeGreaterThanOrEqual(0);
      expect(dance.combAngleDeg).toBeLessThan(360);
      expect(dance.feederDistanceM).toBeGreaterThan(0);
    }
    const saved = savedCalibrations(study.store);
    expect(saved.map(({ name }) => name)).toEqual(['training day']);
    expect(noted.map(({ id }) => id)).toEqual(expect.arrayContaining([...saved[0]!.danceIds]));
  });

  test('a study of somebody else is left alone', async () => {
    await initStudy(at('other'), newSettings('summer'));
    const before = await readFile(join(at('other'), 'study.json'), 'utf8');
    await expect(makeDemoStudy(at('other'), [])).rejects.toThrow(/found the study summer; wanted a place/);
    expect(await readFile(join(at('other'), 'study.json'), 'utf8')).toBe(before);
  });

  test('stopped while it is made, it leaves the one before as it was, and nothing beside it', async () => {
    const before = await readFile(at('demo/study/study.json'), 'utf8');
    const entries = await readdir(at('demo'));
    await expect(makeDemoStudy(at('demo/study'), [demo], AbortSignal.abort())).rejects.toThrow('aborted');
    expect(await readFile(at('demo/study/study.json'), 'utf8')).toBe(before);
    expect(await readdir(at('demo'))).toEqual(entries);
  });

  test('a demo that is stopped leaves nothing half-made', async () => {
    const child = spawn(process.execPath, [MAIN, 'demo', '--no-serve', '--out', at('stopped')]);
    let stderr = '';
    child.stderr.on('data', (text) => {
      stderr += text;
    });
    const ended = once(child, 'close');
    const entries = () => readdir(at('stopped')).catch(() => []);
    while ((await entries()).length === 0 && child.exitCode === null) await sleep(10);
    expect(await entries()).toEqual([expect.stringMatching(/^training-.*\.tmp$/)]);
    child.kill('SIGINT');
    expect(await ended).toEqual([130, null]);
    expect(stderr).toBe(`combtone: stopped: what is whole so far is in ${at('stopped')}\n`);
    expect(await entries()).toEqual([]);
  });

  test('is served until the program is told to end', async () => {
    const serving = spawn(process.execPath, [MAIN, 'review', '--study', at('demo/study'), '--read-only']);
    onTestFinished(() => void serving.kill('SIGKILL'));
    const [words] = (await once(serving.stdout, 'data')) as [Buffer];
    const answer = await fetch(words.toString().trim(), { redirect: 'manual' });
    // To the page without the token, which is in a cookie now.
    expect([answer.status, answer.headers.get('location')]).toEqual([303, '/']);
    serving.kill('SIGINT');
    expect(await once(serving, 'exit')).toEqual([0, null]);
  });

  test('a port that is taken is told by review, and passed over by the demo', async () => {
    const { serveReview } = await import('../../src/cli/serve-review.ts');
    const other = createServer().listen(0, '127.0.0.1');
    await once(other, 'listening');
    onTestFinished(() => void other.close());
    const { port } = other.address() as { port: number };
    const address = { host: '127.0.0.1', port };
    const refused = serveReview(await openStudy(at('demo/study'), true), address, () => {});
    await expect(refused).rejects.toThrow(/--port: found \d+, which something else listens on/);
    let told = { port: 0, instead: false };
    await serveReview(
      await openStudy(at('demo/study'), true),
      { ...address, orAnyPort: true },
      (serving, instead) => {
        told = { port: serving.port, instead };
        process.emit('SIGTERM', 'SIGTERM');
      },
    );
    expect(told.instead).toBe(true);
    expect(told.port).not.toBe(port);
    await expect(fetch(`http://127.0.0.1:${told.port}/`)).rejects.toThrow();
  });
});
