import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { request as httpRequest } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import { type ServeOptions, type Serving, serveStudy } from '../../src/server/server.ts';
import { simulateHive } from '../../src/simulate/index.ts';
import { detectStudy } from '../../src/study/study-detect.ts';
import { initStudy, newSettings, type OpenStudy, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';

/** A study on 90 s of simulated sound, detected, and the service on it. */
export interface Served extends Serving {
  readonly study: OpenStudy;
  readonly folder: string;
  /** Serves the same study once more, as another process would: with a handle of its own. */
  readonly again: (options?: ServeOptions) => Promise<Serving>;
  readonly get: (path: string, headers?: Record<string, string>) => Promise<Response>;
  readonly post: (path: string, body: unknown, headers?: Record<string, string>) => Promise<Response>;
}

export const feedersCsv = 'feeder_id,distance_m\nreed,150\nalder,350\nsluice,700\n';

/** Simulated sound with many dances in it, 90 s where no other length is asked for. @returns its path */
export async function simulatedSound(
  folder: string,
  name = 'hive',
  seed = 8101,
  lengthS = 90,
): Promise<string> {
  const { recordingPath } = await simulateHive(folder, name, {
    seed,
    lengthS,
    snrDb: 12,
    dancesPerHour: 300,
    startTime: '2031-06-14T09:30:00',
  });
  return recordingPath;
}

/** As `simulatedSound`, of which neither the file nor its name tells when it begins. */
export async function soundWithoutStart(folder: string): Promise<string> {
  const plan = { seed: 8101, lengthS: 90, snrDb: 12, dancesPerHour: 300 };
  return (await simulateHive(folder, 'hive', plan)).recordingPath;
}

/**
 * Makes and serves a study; all is gone after the tests of the file.
 *
 * @param record makes the recording, or several, in a folder and gives the path of each
 */
export async function servedStudy(
  options: ServeOptions = {},
  record: (folder: string) => Promise<string | readonly string[]> = simulatedSound,
): Promise<Served> {
  const parent = await mkdtemp(join(tmpdir(), 'combtone-served-'));
  const folder = join(parent, 'study');
  const recordingPaths = [await record(join(parent, 'sound'))].flat();
  await initStudy(folder, newSettings('served'));
  await writeFile(join(folder, 'feeders.csv'), feedersCsv);
  const study = await openStudy(folder);
  for (const path of recordingPaths) await addRecording(study, path);
  await detectStudy(study);
  const serving = await serveStudy(study, options);
  const closing: (() => Promise<void> | void)[] = [serving.close, () => void study.store.close()];
  afterAll(async () => {
    for (const close of closing) await close();
    await rm(parent, { recursive: true, force: true });
  });
  const { port, token } = serving;
  const authorization = { authorization: `Bearer ${token}` };
  const at = (path: string) => `http://127.0.0.1:${port}${path}`;
  return {
    ...serving,
    study,
    folder,
    again: async (more = {}) => {
      const other = await openStudy(folder);
      const second = await serveStudy(other, { token, ...more });
      closing.unshift(second.close, () => void other.store.close());
      return second;
    },
    get: (path, headers = {}) => fetch(at(path), { headers: { ...authorization, ...headers } }),
    post: (path, body, headers = {}) =>
      fetch(at(path), {
        method: 'POST',
        headers: { 'content-type': 'application/json', ...authorization, ...headers },
        body: JSON.stringify(body),
      }),
  };
}

/** A request whose headers may be what a browser would never let a page set, such as Host. */
export function rawGet(
  port: number,
  path: string,
  headers: Record<string, string>,
): Promise<{ status: number; headers: Record<string, unknown>; body: string }> {
  return new Promise((resolve, reject) => {
    const request = httpRequest({ host: '127.0.0.1', port, path, headers }, (response) => {
      let body = '';
      response.setEncoding('utf8');
      response.on('data', (part) => {
        body += part;
      });
      response.on('end', () => resolve({ status: response.statusCode!, headers: response.headers, body }));
    });
    request.on('error', reject);
    request.end();
  });
}

/** Messages of an event stream as they come. */
export async function* streamMessages(response: Response): AsyncGenerator<Record<string, unknown>> {
  let rest = '';
  for await (const part of response.body!.pipeThrough(new TextDecoderStream())) {
    const frames = (rest + part).split('\n\n');
    rest = frames.pop()!;
    for (const frame of frames) {
      const data = /^data: (.*)$/m.exec(frame)?.[1];
      if (data !== undefined) yield JSON.parse(data) as Record<string, unknown>;
    }
  }
}
