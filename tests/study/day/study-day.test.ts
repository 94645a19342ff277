import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { daySources } from '../../../src/study/day/day-sources.ts';
import { dayText } from '../../../src/study/day/day-text.ts';
import { studyDay } from '../../../src/study/day/study-day.ts';
import { dayFigures } from '../../../src/study/figures/day-figures.ts';
import { studyFindings } from '../../../src/study/study-findings.ts';
import { readPlaces } from '../../../src/study/study-folder.ts';
import { studyView } from '../../../src/study/study-view.ts';
import { studyFolders } from '../made-study.ts';
import { type Sunny, sunnyStudy } from '../sunny-study.ts';

const newStudy = studyFolders();

async function dayOf(name: string, given: Sunny = {}, arrivals?: string) {
  const study = await sunnyStudy(await newStudy(name), given);
  if (arrivals !== undefined) await writeFile(join(study.folder, 'arrivals.csv'), arrivals);
  const view = studyView(study, await readPlaces(study));
  const findings = studyFindings(view);
  try {
    return { day: await studyDay(view, findings), sources: daySources(view, findings) };
  } finally {
    study.store.close();
  }
}

describe('a study over the day', () => {
  test('has its dances by the hour, with the measures that go with reward', async () => {
    const { day } = await dayOf('hours');
    expect(day.hours.map(({ hour }) => hour)).toEqual([8, 9, 10, 11, 12, 13, 14, 15]);
    expect(day.hours.reduce((sum, { dances }) => sum + dances, 0)).toBe(24);
    for (const row of day.hours) {
      expect(row.recorded_min).toBe(60);
      expect(row.dances_per_hour).toBe(row.dances);
      expect(row.mean_run_count).toBe(7);
      expect(row.mean_circuits_per_15s).toBe(5);
    }
    const [first, second] = day.dances;
    expect(first).toMatchObject({ run_count: 7, begging_calls: 1, feeder_id: 'reed', bee_id: 'red-1' });
    expect(first!.begging_calls_per_min).toBeCloseTo(60 / first!.dance_duration_s, 2);
    expect(first!.hour).toBeCloseTo(8 + (300 + first!.dance_duration_s / 2) / 3600, 3);
    expect(first!.dance_duration_s).toBeCloseTo(18.4, 0);
    expect(second!.begging_calls).toBe(0);
    expect(day.cautions).toEqual([]);
  });

  test('has comb angles near those that sun and feeder make expect', async () => {
    const { day } = await dayOf('angles');
    const deviations = day.dances.flatMap(({ deviation_deg }) => deviation_deg ?? []);
    expect(deviations.length).toBe(18);
    for (const deviation of deviations) expect(Math.abs(deviation)).toBeLessThan(12);
    expect(day.clock).toMatchObject({ nightDances: 0, check: { better: [] } });
    expect(day.clock.words.join(' ')).toMatch(/^18 dances to constant sources lie \d\.\d°.*; no other clock/);
  });

  test('shows a wrong time zone at once, in words', async () => {
    const { day } = await dayOf('zone', { timeZone: 'America/New_York' });
    expect(day.clock.check!.better[0]).toMatchObject({ kind: 'clock', amount: -6 });
    expect(day.clock.words.join(' ')).toMatch(
      /fit better with −6 h on the clock .*: is the time zone right\?/,
    );
    const slow = await dayOf('slow', { slowH: 2 });
    expect(slow.day.clock.words.join(' ')).toMatch(/with \+2 h on the clock/);
  });

  test('shows dances by night, and how far the clock would have to go', async () => {
    const { day } = await dayOf('night', { startTime: '2031-06-14T20:00:00' });
    expect(day.clock.nightDances).toBeGreaterThan(15);
    expect(day.clock.words[0]).toMatch(
      /^\d+ of 24 dances fall when the sun is more than 6° below the horizon: the clock, the time zone or the coordinates are wrong\. With [+−]\d+ h on the clock all would be by day\.$/,
    );
    expect(day.dances.some(({ flags }) => flags?.includes('below the horizon'))).toBe(true);
  });

  test('says why it cannot check: no coordinates, no time zone', async () => {
    const unplaced = await dayOf('unplaced', { placed: false });
    expect(unplaced.day.clock.words).toEqual([
      'Clock and comb cannot be checked: study.json has no coordinates of the hive.',
    ]);
    expect(unplaced.sources).toBeNull();
    const unzoned = await dayOf('unzoned', { timeZone: null });
    expect(unzoned.day.clock.words[0]).toMatch(/no dance has a clock time .* no time zone in study\.json/);
    expect(unzoned.day.hours.length).toBe(8);
  });

  test('sets arrivals against the dances before them', async () => {
    // The first dance, to reed, begins at 08:05:00; the fourth to have a feeder, to alder, later.
    const rows = [
      '2031-06-14T08:08:20,reed,',
      '2031-06-14T08:09:00+02:00,reed,white',
      '2031-06-14T08:03:00,reed,',
    ];
    const { day } = await dayOf('arrivals', {}, `time,feeder_id,mark\n${rows.join('\n')}\n`);
    expect(day.arrivals).toMatchObject([
      {
        time: '2031-06-14T08:03:00+02:00',
        last_dance_id: null,
        latency_s: null,
        dances_before: 0,
        recruit: true,
      },
      { latency_s: 200, last_dance_id: 'hive-d0001', dances_before: 1, runs_before: 7, recruit: true },
      { latency_s: 240, mark: 'white', recruit: false },
    ]);
    expect(dayText(day)).toMatch(/reed +3 +2 +1 +200/);
  });

  test.each([
    ['time', 'noon,reed,', /arrivals\.csv, row 2, column time: found "noon"; wanted a date and time/],
    [
      'feeder',
      '2031-06-14T09:00:00,elm,',
      /row 2, column feeder_id: found "elm"; wanted a feeder of feeders\.csv/,
    ],
    ['jump', '2031-03-30T02:30:00,reed,', /row 2, column time: found .* does not exist in Europe\/Berlin/],
    ['gap', ',reed,', /row 2, column time: found an empty cell/],
  ])('refuses arrivals with a wrong %s', async (name, row, wanted) => {
    await expect(dayOf(`bad ${name}`, {}, `time,feeder_id,mark\n${row}\n`)).rejects.toThrow(wanted);
  });

  test('is drawn: comb angles against those expected, activity, reward, latency', async () => {
    const { day, sources } = await dayOf('drawn', {}, 'time,feeder_id,mark\n2031-06-14T08:08:20,reed,\n');
    const figures = dayFigures(day.dances, day.hours, day.arrivals, sources);
    expect(figures.map(({ name }) => name)).toEqual([
      'day-comb-angle',
      'day-activity',
      'day-tempo',
      'day-runs',
      'day-return',
      'day-dance-length',
      'day-begging',
      'day-latency',
    ]);
    type Trace = { name: string; mode: string; x: number[]; y: number[] };
    const traces = figures[0]!.data as unknown as Trace[];
    const [reed] = traces.filter(({ name }) => name === 'reed');
    const [curve] = traces.filter(({ name }) => name === 'reed, expected');
    // Each point lies on the curve but for the reading: 3° and a half.
    for (const [k, x] of reed!.x.entries()) {
      const near = curve!.x.findIndex((hour) => hour >= x);
      expect(Math.abs(curve!.y[near]! - reed!.y[k]!)).toBeLessThan(16);
    }
    expect(dayFigures([], [], [], null)).toEqual([]);
  });
});
