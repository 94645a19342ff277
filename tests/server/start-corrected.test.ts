import { join } from 'node:path';
import { beforeAll, expect, test, vi } from 'vitest';
import { z } from 'zod';
import * as api from '../../src/server/api.ts';
import { openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { type Served, servedStudy, soundWithoutStart, streamMessages } from './served-study.ts';

vi.setConfig({ testTimeout: 20_000, hookTimeout: 60_000 });

let served: Served;
beforeAll(async () => {
  served = await servedStudy({}, soundWithoutStart);
});

/** As `combtone study add --start` in a terminal does, with a handle of its own. */
async function correctStart(startTime: string): Promise<void> {
  const study = await openStudy(served.folder);
  const [{ path }] = (await read('/api/study', api.studySchema)).recordings as [api.RecordingSummary];
  await addRecording(study, join(served.folder, path), startTime);
  study.store.close();
}

async function read<S extends z.ZodType>(path: string, schema: S): Promise<z.infer<S>> {
  const response = await served.get(path);
  return schema.parse(await response.json());
}

test('dances, the recording and its ribbon are at the corrected time at once', async () => {
  const startsOf = async () => {
    const [dance] = (await read('/api/dances', z.array(api.wholeDanceSchema))) as [api.WholeDanceRow];
    const { dance: inHand } = await read(`/api/dances/${dance.id}`, api.danceInHandSchema);
    const { startTime } = await read('/api/recordings/1/ribbon', api.ribbonSchema);
    const { recordings } = await read('/api/study', api.studySchema);
    return [dance.startTime, inHand.startTime, startTime, recordings[0]!.startTime].map(
      (time) => time?.slice(0, 13) ?? null,
    );
  };
  expect(await startsOf()).toEqual([null, null, null, null]);
  for (const hour of ['2031-06-14T09', '2031-06-14T11']) {
    await correctStart(`${hour}:05:00`);
    expect(await startsOf()).toEqual([hour, hour, hour, hour]);
  }
});

test('pages that are open are told of it, and those that come back can see that it has changed', async () => {
  const stop = new AbortController();
  const listen = async () => {
    const response = await fetch(`http://127.0.0.1:${served.port}/api/events`, {
      headers: { authorization: `Bearer ${served.token}` },
      signal: stop.signal,
    });
    return streamMessages(response);
  };
  const next = async (from: AsyncGenerator) => api.streamSchema.parse((await from.next()).value);
  const messages = await listen();
  const hello = await next(messages);
  const { recordingsStamp } = await read('/api/study', api.studySchema);
  expect(hello).toMatchObject({ type: 'hello', recordingsStamp });
  await correctStart('2031-06-14T12:00:00');
  const heard = await next(messages);
  expect(heard.type).toBe('recordings');
  const after = await read('/api/study', api.studySchema);
  expect(after.recordingsStamp).not.toBe(recordingsStamp);
  expect(heard).toMatchObject({ recordingsStamp: after.recordingsStamp });
  expect(await next(await listen())).toMatchObject({
    type: 'hello',
    recordingsStamp: after.recordingsStamp,
  });
  stop.abort();
});
