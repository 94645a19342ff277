import { beforeAll, expect, test, vi } from 'vitest';
import { z } from 'zod';
import * as api from '../../src/server/api.ts';
import { servedCutDance } from './served-cut-dance.ts';
import type { Served } from './served-study.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 60_000 });

let served: Served;
let whole: api.WholeDanceRow;
let parts: readonly [api.DancePart, api.DancePart];
const FILES = ['hive-20310614_093000.wav', /^hive-20310614_093[01]\d\d\.wav$/] as const;

async function read<S extends z.ZodType>(path: string, schema: S): Promise<z.infer<S>> {
  const response = await served.get(path);
  const body = await response.json();
  expect(response.status, JSON.stringify(body)).toBe(200);
  expect(body).toEqual(schema.parse(body));
  return body as z.infer<S>;
}
const listed = (query = '') => read(`/api/dances${query}`, z.array(api.wholeDanceSchema));
const across = async (query = '') => (await listed(query)).filter((dance) => dance.parts.length > 0);
const send = async (edit: api.Edit) => {
  const answer = await served.post('/api/edits', { reviewer: 'ada', edit });
  expect(answer.status).toBe(200);
  return api.editResultSchema.parse(await answer.json());
};
const noted = ({ id, version }: { id: string; version: number }, beeId: string | null) =>
  send({ kind: 'dance', target: { id, version }, changes: { beeId } });

beforeAll(async () => {
  served = await servedCutDance();
  [whole] = (await across()) as [api.WholeDanceRow];
  parts = whole.parts as unknown as typeof parts;
});

test('is listed once, under its first part, with counts and times of the whole', async () => {
  expect(await across()).toHaveLength(1);
  const [first, second] = parts;
  expect(parts.map(({ partOf, goesOnAs }) => [partOf, goesOnAs])).toEqual([
    [null, second.id],
    [first.id, null],
  ]);
  expect(first.recording).toBe(FILES[0]);
  expect(second.recording).toMatch(FILES[1]);
  expect(whole).toMatchObject({
    id: first.id,
    recordingId: first.recordingId,
    startS: first.startS,
    runCount: first.runCount + second.runCount,
  });
  // The second recording begins where the first ends.
  const { recordings } = await read('/api/study', api.studySchema);
  const { durationS } = recordings.find(({ id }) => id === first.recordingId)!;
  expect(whole.endS).toBeCloseTo(durationS + second.endS, 6);
  expect((await listed()).map(({ id }) => id)).not.toContain(second.id);
});

test('is in the list of each recording that holds a part of it, and as the same', async () => {
  for (const { recordingId } of parts) {
    const list = await listed(`?recordingId=${recordingId}`);
    expect(list.filter((dance) => dance.parts.length > 0)).toEqual([whole]);
    for (const dance of list.filter((one) => one.parts.length === 0))
      expect(dance.recordingId).toBe(recordingId);
  }
});

test('has all its runs on the ladder and one estimate, whichever part is asked for', async () => {
  const [one, other] = await Promise.all(
    parts.map(({ id }) => read(`/api/dances/${id}`, api.danceInHandSchema)),
  );
  expect(other).toEqual(one);
  expect(one!.dance).toEqual(whole);
  expect(one!.runs).toHaveLength(whole.runCount);
  expect(one!.runs.filter(({ used }) => used)).toHaveLength(whole.usedRuns);
  expect(one!.runs.map(({ danceId }) => danceId)).toEqual(
    parts.flatMap(({ id, runCount }) => Array<string>(runCount).fill(id)),
  );
  // Its first and its last run are not used; those at the cut are.
  expect([0, -1].map((k) => one!.runs.at(k)!.used)).toEqual([false, false]);
  const atCut = one!.runs.findIndex(({ danceId }) => danceId === parts[1].id);
  expect([atCut - 1, atCut].map((k) => one!.runs[k]!.used)).toEqual([true, true]);
  // Across the cut the return phase is reckoned on one clock.
  expect(one!.runs[atCut - 1]!.returnS).toBeGreaterThan(0);
  expect(one!.runs[atCut - 1]!.returnS).toBeLessThan(5);
  expect(one!.runs.at(-1)!.returnS).toBeNull();
  const estimates = await Promise.all(
    parts.map(({ id }) => read(`/api/dances/${id}/estimate`, api.danceEstimateSchema)),
  );
  expect(estimates[1]).toEqual(estimates[0]);
  expect(estimates[0]!.estimate).toMatchObject({ dance_id: whole.id, used_runs: whole.usedRuns });
});

test('windows and answers to edits tell which rows are parts of it', async () => {
  for (const { recordingId, id, partOf, goesOnAs } of parts) {
    const { dances } = await read(`/api/recordings/${recordingId}/window?from=0&to=100`, api.windowSchema);
    expect(dances.find((dance) => dance.id === id)).toMatchObject({ partOf, goesOnAs });
  }
});

test('what is noted of its later part is noted of it; noted of two bees it is two dances', async () => {
  const [answer] = (await noted(parts[1], 'red-7')).dances;
  expect(answer).toMatchObject({ id: parts[1].id, partOf: parts[0].id, beeId: 'red-7' });
  expect(await across()).toMatchObject([{ id: whole.id, beeId: 'red-7' }]);
  const [first] = (await noted(parts[0], 'blue-2')).dances;
  expect(first).toMatchObject({ goesOnAs: null });
  expect(await across()).toEqual([]);
  await noted(first!, null);
  expect(await across()).toMatchObject([{ id: whole.id, runCount: whole.runCount }]);
});
