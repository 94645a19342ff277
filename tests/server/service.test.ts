import { setTimeout as sleep } from 'node:timers/promises';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { z } from 'zod';
import * as api from '../../src/server/api.ts';
import { type Served, servedStudy, streamMessages } from './served-study.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 60_000 });

let served: Served;
beforeAll(async () => {
  served = await servedStudy();
});

/** The answer to a GET, held to its schema strictly: nothing missing, nothing more than described. */
async function read<S extends z.ZodType>(path: string, schema: S): Promise<z.infer<S>> {
  const response = await served.get(path);
  const body = await response.json();
  expect(response.status, JSON.stringify(body)).toBe(200);
  const parsed = schema.parse(body);
  expect(body).toEqual(parsed);
  return parsed;
}

async function send<S extends z.ZodType>(path: string, body: unknown, schema: S, status = 200) {
  const response = await served.post(path, body);
  const answer = await response.json();
  expect(response.status, JSON.stringify(answer)).toBe(status);
  const parsed = schema.parse(answer) as z.infer<S>;
  expect(answer).toEqual(parsed);
  return parsed;
}

const edit = (given: api.Edit, reviewer = 'ada') =>
  send('/api/edits', { reviewer, edit: given }, api.editResultSchema);
const targetOf = ({ id, version }: { id: string; version: number }) => ({ id, version });
const soundNow = async (id: string) => {
  const { sounds } = await read('/api/recordings/1/window?from=0&to=90', api.windowSchema);
  return sounds.find((sound) => sound.id === id)!;
};

describe('reading', () => {
  test('the study, its recordings, the ribbon', async () => {
    const study = await read('/api/study', api.studySchema);
    expect(study).toMatchObject({ readOnly: false, settings: { name: 'served' } });
    expect(study.feeders.map(({ feederId }) => feederId)).toEqual(['reed', 'alder', 'sluice']);
    const recordings = await read('/api/recordings', z.array(api.recordingSchema));
    expect(recordings).toEqual(study.recordings);
    expect(recordings[0]).toMatchObject({ id: 1, present: true, durationS: 90, channelCount: 1 });
    const ribbon = await read('/api/recordings/1/ribbon', api.ribbonSchema);
    expect(ribbon.runs).toHaveLength(2);
    const all = ribbon.sounds.reduce((sum, value) => sum + value, 0);
    expect(all).toBe(study.progress.sounds);
    expect(all).toBeGreaterThan(15);
  });

  test('a window lists what touches it, with pulses inside the trains and the dances of the trains', async () => {
    const whole = await read('/api/recordings/1/window?from=0&to=90', api.windowSchema);
    const train = whole.sounds.find(({ kind }) => kind === 'train')!;
    expect(train.pulseTimesS).toHaveLength(train.pulseCount!);
    for (const time of train.pulseTimesS) {
      expect(time).toBeGreaterThanOrEqual(train.startS);
      expect(time).toBeLessThanOrEqual(train.endS);
    }
    const middle = (train.startS + train.endS) / 2;
    const part = await read(`/api/recordings/1/window?from=${middle}&to=${middle + 0.01}`, api.windowSchema);
    expect(part.sounds.map(({ id }) => id)).toContain(train.id);
    expect(part.dances.map(({ id }) => id)).toContain(train.danceId);
    const touching = whole.sounds.filter(({ startS, endS }) => startS < middle + 0.01 && endS > middle);
    expect(part.sounds).toEqual(touching);
  });

  test('the queue: least certain first, by time, in pages', async () => {
    const unsure = await read('/api/queue?limit=1000', api.queueSchema);
    const doubts = unsure.items.map(({ confidence }) => Math.abs(confidence! - 0.5));
    expect(doubts).toEqual([...doubts].sort((a, b) => a - b));
    const inTime = await read('/api/queue?order=time&kind=train&limit=1000', api.queueSchema);
    const starts = inTime.items.map(({ startS }) => startS);
    expect(starts).toEqual([...starts].sort((a, b) => a - b));
    expect(inTime.items.every(({ kind }) => kind === 'train')).toBe(true);
    const page = await read('/api/queue?order=time&kind=train&offset=2&limit=3', api.queueSchema);
    expect(page.items).toEqual(inTime.items.slice(2, 5));
    expect(page.total).toBe(inTime.total);
  });

  test('what does not fit is refused with its place', async () => {
    const bad: [string, number, RegExp][] = [
      ['/api/recordings/1/window?from=5&to=4', 400, /query\.to/],
      ['/api/recordings/1/window?from=x&to=4', 400, /query\.from/],
      ['/api/recordings/1/spectrogram?from=0&to=500', 400, /at most 120 s/],
      ['/api/recordings/1/spectrogram?from=91&to=95', 400, /before the recording's end/],
      ['/api/recordings/1/audio?from=0&to=1&channel=2', 404, /channel 2/],
      ['/api/recordings/9/ribbon', 404, /recording 9/],
      ['/api/dances/none', 404, /dance none/],
      ['/api/queue?order=alphabet', 400, /query\.order/],
      ['/api/none', 404, /none/],
    ];
    for (const [path, status, words] of bad) {
      const response = await served.get(path);
      expect(response.status, path).toBe(status);
      expect((await response.json()).message, path).toMatch(words);
    }
    const body = await send('/api/edits', { reviewer: '', edit: { kind: 'accept' } }, api.errorSchema, 400);
    expect(body.message).toMatch(/^body\./);
  });

  test('OpenAPI names every address, with resolvable schemas', async () => {
    const document = (await (await served.get('/api')).json()) as {
      openapi: string;
      paths: Record<string, Record<string, { responses: object; requestBody?: object }>>;
    };
    expect(document.openapi).toBe('3.1.0');
    expect(Object.keys(document.paths)).toContain('/api/recordings/{id}/window');
    const edits = document.paths['/api/edits']!.post!;
    expect(JSON.stringify(edits.requestBody)).toContain('secondStartS');
    expect(Object.keys(edits.responses)).toContain('409');
    for (const ref of JSON.stringify(document).matchAll(/"\$ref":"([^"]*)"/g)) {
      expect(ref[1]).toMatch(/^#\/components/);
    }
  });
});

describe('editing', () => {
  test('an edit answers with the rows as they are; a second on the old version gets 409 and those rows', async () => {
    const { items } = await read('/api/queue?order=time&kind=train', api.queueSchema);
    const [train] = items as [api.Sound];
    const done = await edit({
      kind: 'times',
      target: targetOf(train),
      startS: train.startS + 0.05,
      endS: train.endS,
    });
    expect(done.sounds[0]).toMatchObject({ id: train.id, status: 'accepted', version: done.event.id });
    expect(done.dances.map(({ id }) => id)).toEqual([train.danceId]);
    expect(done.progress.reviewed).toBeGreaterThan(0);
    const late = { kind: 'reject', targets: [targetOf(train)] };
    const before = (await read('/api/study', api.studySchema)).lastEventId;
    const lost = await send('/api/edits', { reviewer: 'grace', edit: late }, api.conflictSchema, 409);
    expect(lost.sounds).toEqual(done.sounds);
    expect((await read('/api/study', api.studySchema)).lastEventId).toBe(before);
    expect(await soundNow(train.id)).toEqual(done.sounds[0]);
  });

  test('undo, redo, history, and the state after any event', async () => {
    const { items } = await read('/api/queue?order=time', api.queueSchema);
    const sound = items[0]!;
    const done = await edit({ kind: 'reject', targets: [targetOf(sound)] }, 'undoer');
    expect(done).toMatchObject({ undoCount: 1, redoCount: 0 });
    const undone = await send('/api/undo', { reviewer: 'undoer' }, api.editResultSchema);
    expect(undone.event).toMatchObject({ kind: 'undo', undoOf: done.event.id });
    expect(undone.sounds[0]).toMatchObject({ id: sound.id, status: 'found' });
    expect(undone).toMatchObject({ undoCount: 0, redoCount: 1 });
    const redone = await send('/api/redo', { reviewer: 'undoer' }, api.editResultSchema);
    expect(redone.sounds[0]).toMatchObject({ status: 'rejected' });
    const nothing = await send('/api/redo', { reviewer: 'undoer' }, api.errorSchema, 409);
    expect(nothing.error).toBe('nothing');
    const history = await read('/api/history?reviewer=undoer', api.historySchema);
    expect(history.events.map(({ kind }) => kind)).toEqual(['redo', 'undo', 'reject']);
    const status = async (eventId: number) => {
      const state = await read(`/api/history/${eventId}/state?recordingId=1`, api.stateSchema);
      return state.sounds.find(({ id }) => id === sound.id)!.status;
    };
    expect(await status(done.event.id)).toBe('rejected');
    expect(await status(undone.event.id)).toBe('found');
    expect(await status(done.event.id - 1)).toBe('found');
    await send('/api/undo', { reviewer: 'undoer' }, api.editResultSchema);
  });

  test('an edit that makes no sense is 400 in words', async () => {
    const train = (await read('/api/queue?order=time&kind=train', api.queueSchema)).items[0]!;
    const given = { kind: 'times', target: targetOf(train), startS: 20, endS: 10 };
    const body = await send('/api/edits', { reviewer: 'ada', edit: given }, api.errorSchema, 400);
    expect(body.message).toMatch(/found 20 to 10 s; wanted an end/);
  });

  test('pages hear of each other’s edits within a second, over two services and after a break', async () => {
    const other = await served.again();
    const stop = new AbortController();
    const listen = (headers: Record<string, string> = {}) =>
      fetch(`http://127.0.0.1:${other.port}/api/events`, {
        headers: { authorization: `Bearer ${served.token}`, ...headers },
        signal: stop.signal,
      });
    const response = await listen();
    expect(response.headers.get('content-type')).toBe('text/event-stream');
    const messages = streamMessages(response);
    const next = async (from: typeof messages) => api.streamSchema.parse((await from.next()).value);
    const hello = await next(messages);
    expect(hello.type).toBe('hello');
    const sound = (await read('/api/queue?order=time', api.queueSchema)).items[1]!;
    const began = performance.now();
    const done = await edit({ kind: 'accept', targets: [targetOf(sound)] });
    const heard = await next(messages);
    expect(performance.now() - began).toBeLessThan(1000);
    expect(heard).toMatchObject({ type: 'edit', event: done.event, sounds: done.sounds });
    const late = streamMessages(await listen({ 'last-event-id': String(done.event.id - 1) }));
    expect(await next(late)).toMatchObject({ type: 'hello', lastEventId: done.event.id });
    expect(await next(late)).toMatchObject({ type: 'edit', event: { id: done.event.id } });
    stop.abort();
  });
});

describe('calibrating', () => {
  test('dances with feeders give a curve, a preview of it, and estimates that follow edits', async () => {
    const dances = (await read('/api/dances', z.array(api.wholeDanceSchema))).filter(
      ({ runCount }) => runCount >= 2,
    );
    expect(dances.length).toBeGreaterThanOrEqual(3);
    const byDuration = [...dances].sort((a, b) => a.meanDurationS! - b.meanDurationS!);
    for (const [k, dance] of byDuration.entries()) {
      const feederId = ['reed', 'alder', 'sluice'][Math.min(2, Math.floor((3 * k) / byDuration.length))]!;
      await edit({ kind: 'dance', target: targetOf(dance), changes: { feederId, beeId: `bee-${k % 2}` } });
    }
    const danceIds = [...byDuration.map(({ id }) => id), 'hive-d9999'];
    const asked = { danceIds, curve: 'line' };
    const preview = await send('/api/calibrations/preview', asked, api.calibrationPreviewSchema);
    expect(preview).toMatchObject({ curve: 'line', level: 0.95 });
    expect(preview.points.map(({ danceId }) => danceId).sort()).toEqual([...danceIds.slice(0, -1)].sort());
    expect(preview.leftOut).toEqual([{ danceId: 'hive-d9999', reason: 'no run left' }]);
    // A fit stands in nobody's way: what is asked after it is answered before it.
    const order: string[] = [];
    const anew = send('/api/calibrations/preview', { ...asked, runs: 'all' }, api.calibrationPreviewSchema);
    await Promise.all([
      anew.then(() => order.push('fit')),
      served.get('/api/history').then(() => order.push('history')),
    ]);
    expect(order).toEqual(['history', 'fit']);
    const [first, last] = [preview.line[0]!, preview.line.at(-1)!];
    expect([first.distanceM, last.distanceM]).toEqual([0, 840]);
    for (const place of preview.line) {
      expect(place.predictionLowS!).toBeLessThan(place.confidenceLowS!);
      expect(place.confidenceLowS!).toBeLessThan(place.confidenceHighS!);
      expect(place.confidenceHighS!).toBeLessThan(place.predictionHighS!);
    }
    const line = (distanceM: number) =>
      first.durationS + ((last.durationS - first.durationS) * distanceM) / last.distanceM;
    for (const { distanceM, meanDurationS, residualS } of preview.points) {
      expect(residualS).toBeCloseTo(meanDurationS - line(distanceM), 6);
    }

    const longest = byDuration.at(-1)!;
    expect((await served.get(`/api/dances/${longest.id}/estimate`)).status).toBe(404);
    const saved = await send(
      '/api/calibrations',
      { ...asked, name: 'summer', reviewer: 'ada' },
      api.calibrationSummarySchema,
    );
    expect(await read('/api/calibrations', z.array(api.calibrationSummarySchema))).toEqual([saved]);
    const detail = await read('/api/calibrations/summer', api.calibrationDetailSchema);
    expect(detail.record).toMatchObject({ format: 'combtone calibration' });

    const estimate = async () =>
      (await read(`/api/dances/${longest.id}/estimate?calibration=summer`, api.danceEstimateSchema)).estimate;
    const before = await estimate();
    expect(before.dance_id).toBe(longest.id);
    const hand = await read(`/api/dances/${longest.id}`, api.danceInHandSchema);
    const run = hand.runs.find(({ used }) => used)!;
    const moved = { kind: 'times', target: targetOf(run), startS: run.startS, endS: run.endS + 0.3 } as const;
    await edit(moved);
    const after = await estimate();
    expect(after.mean_duration_s! - before.mean_duration_s!).toBeCloseTo(0.3 / hand.dance.usedRuns, 3);
  });

  test('dances that no curve can be fitted to are refused in words', async () => {
    const asked = { danceIds: ['hive-d9999'] };
    const body = await send('/api/calibrations/preview', asked, api.errorSchema, 422);
    expect(body.message).toMatch(/found .*; wanted /);
  });
});

test('a client that goes away does not disturb the others', async () => {
  const leaving = Array.from({ length: 5 }, async (_, k) => {
    const stop = new AbortController();
    const path = `/api/recordings/1/spectrogram?from=${k}&to=${k + 60}&columns=2000`;
    const response = fetch(`http://127.0.0.1:${served.port}${path}`, {
      headers: { authorization: `Bearer ${served.token}` },
      signal: stop.signal,
    });
    await sleep(2);
    stop.abort();
    await expect(response).rejects.toThrow();
  });
  await Promise.all(leaving);
  expect((await served.get('/api/study')).status).toBe(200);
});
