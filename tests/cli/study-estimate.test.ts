import { existsSync } from 'node:fs';
import { readFile, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { registerCalibrate } from '../../src/cli/calibrate.ts';
import { registerEstimate } from '../../src/cli/estimate.ts';
import { seededRandom } from '../../src/random.ts';
import { readCalibration } from '../../src/study/calibration-record.ts';
import { readTable } from '../../src/study/csv.ts';
import { readMapDances } from '../../src/study/maps-input.ts';
import { mapPosteriorSchema } from '../../src/study/maps-tables.ts';
import { savedCalibrations } from '../../src/study/store/calibrations.ts';
import type { OpenStudy } from '../../src/study/study-folder.ts';
import type { EstimateRow } from '../../src/study/tables.ts';
import { detect, edit, knownRecording, now, studyFolders, train } from '../study/made-study.ts';
import { runCommand } from './run-command.ts';

const FEEDERS = { reed: 150, alder: 350, sluice: 700, mound: 1200 } as const;
/** Distances of the last three dances, which have no feeder. */
const UNKNOWN_M = [300, 650, 1000];
const CLASH = 'hive-d0016';

const make = studyFolders();
let study: OpenStudy;
let folder = '';

/** Simulated: three dances of six runs at each feeder, three to elsewhere, and one while two feeders were open. */
beforeAll(async () => {
  study = await make('season');
  folder = study.folder;
  const distances = Object.values(FEEDERS);
  await writeFile(
    join(folder, 'feeders.csv'),
    `feeder_id,distance_m\n${Object.entries(FEEDERS)
      .map((pair) => pair.join(','))
      .join('\n')}\n`,
  );
  await writeFile(
    join(folder, 'openings.csv'),
    'feeder_id,start,end\nreed,2031-06-14T09:37:00,2031-06-14T09:40:00\nalder,2031-06-14T09:37:00,2031-06-14T09:40:00\n',
  );
  const recording = knownRecording(study.store, { durationS: 1000 });
  const random = seededRandom(3);
  const all = [...distances, ...distances, ...distances, ...UNKNOWN_M, 400];
  const trains = all.flatMap((distanceM, dance) => {
    const danceS = 0.2 + 0.0012 * distanceM + 0.03 * random.normal();
    return [0, 1, 2, 3, 4, 5].map((run) => {
      // The last dance alone falls into the openings.
      const at = (dance === all.length - 1 ? 450 : 25 * dance) + 3 * run;
      return train(at, at + danceS + 0.03 * random.normal(), dance);
    });
  });
  detect(study.store, recording.id, trains);
  const ids = study.store.prepare('SELECT dance_id FROM dances ORDER BY dance_id').pluck().all() as string[];
  const names = Object.keys(FEEDERS);
  for (const [k, id] of ids.entries()) {
    if (k >= 12) continue;
    const version = study.store.prepare('SELECT version FROM dances WHERE dance_id = ?').pluck().get(id);
    const changes = { feederId: names[k % 4], beeId: `bee-${k % 3}` };
    edit(study.store, { kind: 'dance', target: { id, version: version as number }, changes });
  }
});

const silent = async <T>(act: () => Promise<T>): Promise<{ value: T; said: string }> => {
  let said = '';
  const spy = vi.spyOn(process.stderr, 'write').mockImplementation((text) => {
    said += String(text);
    return true;
  });
  try {
    return { value: await act(), said };
  } finally {
    spy.mockRestore();
  }
};
const calibrate = (...args: string[]) =>
  silent(() => runCommand(registerCalibrate, ['calibrate', '--study', folder, '--draws', '100', ...args]));
const estimate = (...args: string[]) =>
  silent(() => runCommand(registerEstimate, ['estimate', '--study', folder, ...args]));

describe('calibrating and estimating on a study', () => {
  test('without a saved calibration there is no estimate, and the way to one is told', async () => {
    await expect(estimate()).rejects.toThrow(
      /found no saved calibration; wanted one saved by combtone calib/,
    );
  });

  test('dances tied to feeders are calibrated on, and the calibration is saved under its name', async () => {
    const { value, said } = await calibrate('--name', 'June', '--curve', 'line');
    expect(value).toContain(`Saved in ${folder} as June`);
    expect(said).toContain('passed over, 1 of the dances: only openings.csv ties them');
    const all = await calibrate('--unwatched', '--name', 'all', '--curve', 'line');
    expect(all.said).toContain(`dance ${CLASH} left out: several feeders were open: reed, alder`);
    study.store.prepare("DELETE FROM calibrations WHERE name = 'all'").run();
    const [saved] = savedCalibrations(study.store);
    expect(saved).toMatchObject({ name: 'June', reviewer: 'combtone calibrate' });
    expect(saved!.danceIds).toHaveLength(12);
    const out = join(dirname(folder), 'calibration.json');
    await calibrate('--curve', 'line', '--out', out);
    const record = await readCalibration(out);
    expect(record.duration!.parameters[1]!.value).toBeCloseTo(0.0012, 4);
    expect(savedCalibrations(study.store).map(({ name }) => name)).toEqual(['calibration', 'June']);
  });

  test('dances without a feeder are estimated by the newest calibration or the one named', async () => {
    const { value, said } = await estimate('--json');
    expect(said).toContain(CLASH);
    const rows = JSON.parse(value) as EstimateRow[];
    expect(rows.map((row) => row.dance_id)).toEqual(['hive-d0013', 'hive-d0014', 'hive-d0015']);
    for (const [k, row] of rows.entries()) {
      expect(Math.abs(row.distance_m! - UNKNOWN_M[k]!)).toBeLessThan(120);
      expect(row.distance_low_m!).toBeLessThan(row.distance_m!);
    }
    expect((await estimate()).value).toContain('By calibration calibration of the study');
    expect((await estimate('--saved', 'June')).value).toContain('By calibration June of the study');
    await expect(estimate('--saved', 'July')).rejects.toThrow(/"July"; wanted one of: calibration, June/);
  });

  test('a calibration whose dances were changed since is used with a warning, until they are as they were', async () => {
    const stale = async () =>
      /warning: (calibration .*)\n/.exec((await estimate('--saved', 'June', '--json')).said)?.[1];
    const change = (id: string, changes: { feederId?: string; note?: string; combAngleDeg?: number }) => {
      const version = study.store.prepare('SELECT version FROM dances WHERE dance_id = ?').pluck().get(id);
      edit(study.store, { kind: 'dance', target: { id, version: version as number }, changes });
    };
    const runs = study.store.prepare("SELECT sound_id FROM sounds WHERE dance_id = 'hive-d0002'").pluck();
    const [first] = runs.all() as string[];
    expect(await stale()).toBeUndefined();
    // What no calibration rests on, and other dances, are no matter.
    change('hive-d0001', { note: 'windy', combAngleDeg: 40 });
    change('hive-d0013', { note: 'unknown' });
    edit(study.store, { kind: 'accept', targets: [now(study.store, first!)] });
    expect(await stale()).toBeUndefined();
    edit(study.store, { kind: 'reject', targets: [now(study.store, first!)] });
    expect(await stale()).toMatch(
      /^calibration June was saved before 1 of its 12 dances was changed \(hive-d0002\): calibrate again/,
    );
    change('hive-d0001', { feederId: 'mound' });
    expect(await stale()).toMatch(/before 2 of its 12 dances were changed \(hive-d0001, hive-d0002\)/);
    change('hive-d0001', { feederId: 'reed' });
    edit(study.store, { kind: 'accept', targets: [now(study.store, first!)] });
    expect(await stale()).toBeUndefined();
  });

  test('a dance of another treatment than the curve’s is estimated, and told of', async () => {
    const treat = (id: string, treatment: string | null) => {
      const version = study.store.prepare('SELECT version FROM dances WHERE dance_id = ?').pluck().get(id);
      edit(study.store, {
        kind: 'dance',
        target: { id, version: version as number },
        changes: { treatment },
      });
    };
    expect((await estimate('--json')).said).not.toContain('treatment');
    treat('hive-d0013', 'reference');
    treat('hive-d0014', 'loaded');
    const { value, said } = await estimate('--json');
    expect(said.match(/.*treatment.*\n/g)).toEqual([
      'combtone: warning: 1 dance of treatment loaded was estimated by the curve of untreated bees: a treatment that ' +
        'makes runs longer or shorter makes these distances wrong (combtone compare tells by how much)\n',
    ]);
    const rows = JSON.parse(value) as EstimateRow[];
    expect(rows.map((row) => [row.treatment, row.curve_treatment])).toEqual([
      ['reference', null],
      ['loaded', null],
      [null, null],
    ]);
    expect(rows.map(({ note }) => /by the curve of untreated bees/.test(note ?? ''))).toEqual([
      false,
      true,
      false,
    ]);
    expect(rows[1]!.distance_m).not.toBeNull();
    treat('hive-d0013', null);
    treat('hive-d0014', null);
  });

  test('posteriors are written as the map reads them, and sum to one', async () => {
    const at = (name: string) => join(dirname(folder), name);
    await estimate('--out', at('estimates.csv'), '--posteriors', at('posteriors.csv'));
    const byDance = new Map<string, { distance_m: number; density: number }[]>();
    for (const { row } of await readTable(at('posteriors.csv'), mapPosteriorSchema)) {
      byDance.set(row.dance_id, [...(byDance.get(row.dance_id) ?? []), row]);
    }
    expect([...byDance.keys()]).toEqual(['hive-d0013', 'hive-d0014', 'hive-d0015']);
    for (const rows of byDance.values()) {
      let sum = 0;
      for (const [k, row] of rows.entries()) {
        if (k === 0) continue;
        const before = rows[k - 1]!;
        expect(row.distance_m).toBeGreaterThan(before.distance_m);
        sum += ((row.density + before.density) / 2) * (row.distance_m - before.distance_m);
      }
      expect(sum).toBeCloseTo(1, 3);
    }
    const bearings = [...byDance.keys()].map((id) => `${id},90,80,100,0.95`).join('\n');
    await writeFile(
      at('bearings.csv'),
      `dance_id,bearing_deg,bearing_low_deg,bearing_high_deg,level\n${bearings}\n`,
    );
    const dances = await readMapDances(at('estimates.csv'), at('bearings.csv'), at('posteriors.csv'));
    const rows = byDance.get('hive-d0014')!;
    expect(dances[1]!.distance).toMatchObject({ distanceM: rows.map((row) => row.distance_m) });
  });

  test('what does not go together is refused, and nothing is saved', async () => {
    const before = savedCalibrations(study.store).length;
    const observations = join(dirname(folder), 'o.csv');
    await expect(calibrate('--observations', observations)).rejects.toThrow(/--study: found --observations/);
    await expect(calibrate('--name', ' ')).rejects.toThrow(/--name: found " "; wanted 1 to 120/);
    await expect(estimate('--observations', observations)).rejects.toThrow(/--study: found --observations/);
    await expect(estimate('--saved', 'June', '--calibration', 'c.json')).rejects.toThrow(/--saved: found/);
    const bare = (...args: string[]) => runCommand(registerCalibrate, ['calibrate', ...args]);
    await expect(bare()).rejects.toThrow(/--observations: found neither it nor --study/);
    await expect(bare('--observations', observations)).rejects.toThrow(/--out: found nothing/);
    await expect(runCommand(registerEstimate, ['estimate', '--calibration', 'c.json'])).rejects.toThrow(
      /--observations: found neither it nor --study/,
    );
    expect(savedCalibrations(study.store)).toHaveLength(before);
    expect(existsSync(observations)).toBe(false);
    expect(await readFile(join(folder, 'study.json'), 'utf8')).toContain('combtone study');
  });
});
