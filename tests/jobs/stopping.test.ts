import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { detectFiles } from '../../src/cli/detect-files.ts';
import { progressText } from '../../src/cli/progress.ts';
import { type DetectAll, detectInTurn } from '../../src/study/detect-all.ts';
import { allDetections } from '../../src/study/store/detections.ts';
import { openStore } from '../../src/study/store/open-store.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { combtone } from '../cli/run-combtone.ts';
import { recorded, simulatedChannels, temporaryFolder } from './made-recordings.ts';

const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
// Many processes are started, on a machine that may be busy with others.
vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const at = temporaryFolder('stopping');
const RECORDINGS = 8;
let paths: string[] = [];
beforeAll(async () => {
  const [channel] = await simulatedChannels(80);
  const samples = channel!;
  paths = await Promise.all(
    Array.from({ length: RECORDINGS }, (_, k) => recorded(at(`hive-${k}.wav`), [samples], 1 - 0.05 * k)),
  );
}, 60_000);

/** A study of all recordings, none of them detected. @returns its folder */
async function studyOf(name: string): Promise<string> {
  await initStudy(at(name), newSettings(name));
  const study = await openStudy(at(name));
  for (const path of paths) await addRecording(study, path);
  study.store.close();
  return at(name);
}

/** Recordings whose detections are in the store, in the order they came. */
function detected(folder: string): number[] {
  const store = openStore(join(folder, 'study.sqlite'), { readOnly: true });
  try {
    return allDetections(store).map(({ recordingId }) => recordingId);
  } finally {
    store.close();
  }
}

describe('detect --study, stopped', () => {
  test.each([
    ['1', 'SIGINT', 130],
    ['2', 'SIGTERM', 143],
  ] as const)(
    'on %s threads by %s: what is done is kept and told, and the next call goes on',
    async (threads, signal, wanted) => {
      const folder = await studyOf(`stopped-${threads}`);
      const child = spawn(process.execPath, [MAIN, 'detect', '--study', folder, '--threads', threads]);
      let stderr = '';
      child.stderr.on('data', (text) => {
        stderr += text;
      });
      const ended = once(child, 'close');
      while (detected(folder).length === 0 && child.exitCode === null) await sleep(10);
      child.kill(signal);
      expect(await ended).toEqual([wanted, null]);
      const done = detected(folder);
      expect(done.length).toBeGreaterThan(0);
      expect(done.length).toBeLessThan(RECORDINGS);
      const kept = done.length === 1 ? '1 recording is' : `${done.length} recordings are`;
      expect(stderr).toBe(
        `combtone: stopped: ${kept} done and kept in the study, ${RECORDINGS - done.length} left; ` +
          'the same call goes on with them\n',
      );
      const again = await combtone('detect', '--study', folder, '--threads', threads);
      expect(again).toMatchObject({ code: 0, stderr: '' });
      expect(again.stdout).toContain(
        `${RECORDINGS - done.length} ${done.length === RECORDINGS - 1 ? 'recording' : 'recordings'} detected, ${done.length} had been`,
      );
      // Each once, in the order of recordings.
      expect(detected(folder)).toEqual(Array.from({ length: RECORDINGS }, (_, k) => k + 1));
    },
  );

  test('detect on files writes nothing, and says so', async () => {
    const stoppedAfterOne: DetectAll = async function* (tasks, options) {
      for await (const outcome of detectInTurn(tasks, options)) {
        yield outcome;
        // As a terminal sends it on Ctrl-C.
        process.emit('SIGINT');
      }
    };
    const written: string[] = [];
    const spies = [process.stdout, process.stderr].map((stream) =>
      vi.spyOn(stream, 'write').mockImplementation((text) => written.push(String(text)) > 0),
    );
    try {
      expect(await detectFiles(paths.slice(0, 3), { out: at('none') }, stoppedAfterOne)).toBe(130);
    } finally {
      for (const spy of spies) spy.mockRestore();
    }
    expect(written.join('')).toBe(
      'combtone: stopped after 1 of 3 recordings: nothing is written (with --study each is kept as soon as it is done)\n',
    );
    expect(existsSync(at('none'))).toBe(false);
  });
});

test('progress tells share, rate and time left', () => {
  expect(progressText(0.41, 60, 57_000)).toBe('41 %, 950 times real time, about 86 s left');
  expect(progressText(0.999, 60)).toBe('99 %, about 0 s left');
  expect(progressText(0.1, 60)).toBe('10 %, about 9 min left');
  expect(progressText(0.01, 300)).toBe('1 %, about 8.3 h left');
});
