import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { request as httpRequest } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { writeWave } from '../../src/recording/index.ts';
import { type ServeOptions, type Serving, serveStudy } from '../../src/server/server.ts';
import { initStudy, newSettings, type OpenStudy, openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { detect, twoDances } from '../study/made-study.ts';

export interface Answer {
  readonly status: number;
  readonly headers: Record<string, string | string[] | undefined>;
  readonly body: string;
}

/** A study of 20 s of noise with two dances in it, and a service on it, for the tests of one file. */
export interface MadeService {
  readonly study: () => OpenStudy;
  readonly serving: () => Serving;
  /** Serves the study once more. */
  readonly serve: (options?: ServeOptions) => Promise<Serving>;
  /** What a service told of as unforeseen. */
  readonly failures: readonly unknown[];
  readonly bearer: () => { readonly authorization: string };
  /** A request with any path and headers, as no browser would send it; an event stream is left at its first word. */
  readonly ask: (
    path: string,
    headers?: Record<string, string>,
    more?: { readonly method?: string; readonly body?: string },
  ) => Promise<Answer>;
}

export function madeService(): MadeService {
  let folder = '';
  let study: OpenStudy;
  let serving: Serving;
  const failures: unknown[] = [];
  const servings: Serving[] = [];
  const serve = async (options: ServeOptions = {}): Promise<Serving> => {
    const onFailure = (error: unknown) => void failures.push(error);
    const one = await serveStudy(study, { pageFolder: join(folder, 'page'), onFailure, ...options });
    servings.push(one);
    return one;
  };
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-service-'));
    await writeFile(join(folder, 'secret.txt'), SECRET);
    await mkdir(join(folder, 'page', 'assets'), { recursive: true });
    await writeFile(join(folder, 'page', 'index.html'), '<!doctype html><title>page</title>');
    await writeFile(join(folder, 'page', 'assets', 'page-1a2b.js'), 'export {};');
    await initStudy(join(folder, 'study'), newSettings('service'));
    study = await openStudy(join(folder, 'study'));
    const random = seededRandom(5);
    const samples = Float32Array.from({ length: 8000 * 20 }, () => 0.1 * random.normal());
    const path = join(study.folder, 'hive.wav');
    await writeWave(path, { sampleRateHz: 8000, encoding: 'pcm16', channels: [samples] });
    const { recording } = await addRecording(study, path);
    detect(study.store, recording.id, twoDances);
    serving = await serve();
  });
  afterAll(async () => {
    for (const one of servings) await one.close();
    study.store.close();
    await rm(folder, { recursive: true, force: true });
  });
  const bearer = () => ({ authorization: `Bearer ${serving.token}` });
  const ask: MadeService['ask'] = (path, headers = bearer(), { method = 'GET', body } = {}) =>
    askAt(serving.port, path, headers, method, body);
  return { study: () => study, serving: () => serving, serve, failures, bearer, ask };
}

/** In a file two folders above what is served. */
export const SECRET = 'root:x:0:0:not for the service';

function askAt(
  port: number,
  path: string,
  headers: Record<string, string>,
  method: string,
  body: string | undefined,
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const sent = httpRequest({ host: '127.0.0.1', port, path, method, headers, agent: false }, (response) => {
      let text = '';
      response.setEncoding('latin1');
      response.on('data', (part: string) => {
        text += part;
        if (response.headers['content-type'] === 'text/event-stream') sent.destroy();
      });
      response.on('error', () => {});
      response.on('close', () =>
        resolve({ status: response.statusCode!, headers: response.headers, body: text }),
      );
    });
    sent.on('error', reject);
    sent.end(body);
  });
}
