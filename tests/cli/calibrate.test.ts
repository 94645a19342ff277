import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { registerCalibrate } from '../../src/cli/calibrate.ts';
import { registerEstimate } from '../../src/cli/estimate.ts';
import { seededRandom } from '../../src/random.ts';
import { readCalibration } from '../../src/study/calibration-record.ts';
import { readTable } from '../../src/study/csv.ts';
import { neighbourhoodSchema } from '../../src/study/neighbourhoods.ts';
import { estimateSchema } from '../../src/study/tables.ts';

let folder: string;
let observations: string;
let calibration: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'combtone-calibrate-'));
  observations = join(folder, 'observations.csv');
  calibration = join(folder, 'calibration.json');
  await writeFile(observations, simulatedTable());
});
afterEach(() => rm(folder, { recursive: true }));

/** Simulated runs to five feeders: reference dances, and dances in wind that last half as long again. */
function simulatedTable(): string {
  const random = seededRandom(5);
  const rows = ['bee_id,dance_id,distance_m,duration_s,circuits_per_15s,treatment'];
  for (const distanceM of [100, 250, 500, 900, 1400]) {
    for (let dance = 0; dance < 6; dance++) {
      const treatment = dance < 4 ? 'reference' : 'wind';
      const danceS = (0.2 + 0.0012 * distanceM + 0.05 * random.normal()) * (treatment === 'wind' ? 1.5 : 1);
      for (let run = 0; run < 6; run++) {
        const runS = Math.max(danceS + 0.1 * random.normal(), 0.05);
        const circuits = 15 / (runS + 1.3 + 0.0004 * distanceM);
        rows.push(
          `bee-${dance % 4},${distanceM}-${dance},${distanceM},${runS.toFixed(3)},${circuits.toFixed(3)},${treatment}`,
        );
      }
    }
  }
  return `${rows.join('\n')}\n`;
}

/** Runs a command as the program would, and gives back what it printed. */
async function combtone(...args: string[]): Promise<string> {
  const program = new Command().exitOverride();
  registerCalibrate(program);
  registerEstimate(program);
  let printed = '';
  const collect = (text: unknown) => {
    printed += String(text);
    return true;
  };
  program.configureOutput({ writeOut: collect, writeErr: collect });
  for (const command of program.commands) {
    command.exitOverride().configureOutput({ writeOut: collect, writeErr: collect });
  }
  const spy = vi.spyOn(process.stdout, 'write').mockImplementation(collect);
  try {
    await program.parseAsync(args, { from: 'user' });
  } catch (error) {
    if ((error as { code?: string }).code !== 'commander.helpDisplayed') throw error;
  } finally {
    spy.mockRestore();
  }
  return printed;
}

const calibrateArgs = () => [
  'calibrate',
  '--observations',
  observations,
  '--draws',
  '60',
  '--out',
  calibration,
];

describe('combtone calibrate', () => {
  test('prints curve, parameters, criterion and warnings, and writes the record', async () => {
    const printed = await combtone(...calibrateArgs());
    expect(printed).toMatch(/Run duration \(s\) on distance d \(m\): line, a \+ b·d/);
    expect(printed).toMatch(/20 dances \(80 runs\) by 4 marked bees to 5 distances, 100 to 1400 m/);
    expect(printed).toMatch(/parameter +estimate +standard error +unit/);
    expect(printed).toMatch(/curve tried +parameters +AICc/);
    expect(printed).toMatch(/Warning: 10 of 30 dances are of other treatments/);
    const record = await readCalibration(calibration);
    expect(record.settings).toEqual({
      curve: 'auto',
      tempoCurve: 'auto',
      runs: 'inner',
      reference: 'reference',
      seed: 1,
      draws: 60,
    });
    const [a, b] = record.duration!.parameters;
    expect(Math.abs(a.value - 0.2)).toBeLessThan(3 * a.standardError);
    expect(Math.abs(b.value - 0.0012)).toBeLessThan(3 * b.standardError);
    expect(record.tempo?.curve).toBe('line');
    expect(await readdir(folder)).toHaveLength(2);
  });

  test('the same table gives the same bytes, another table another hash', async () => {
    const printed = await combtone(...calibrateArgs(), '--json');
    const first = await readFile(calibration, 'utf8');
    expect(printed).toBe(first);
    await combtone(...calibrateArgs());
    expect(await readFile(calibration, 'utf8')).toBe(first);
    await writeFile(observations, (await readFile(observations, 'utf8')).replace('0.', '0.1'));
    await combtone(...calibrateArgs());
    expect((await readCalibration(calibration)).dataSha256).not.toBe(JSON.parse(first).dataSha256);
  });

  test('--reference, --curve and --runs are obeyed', async () => {
    await combtone(...calibrateArgs(), '--reference', 'wind', '--curve', 'line', '--runs', 'all');
    const { settings, duration } = await readCalibration(calibration);
    expect(settings).toMatchObject({ curve: 'line', runs: 'all', reference: 'wind' });
    expect(duration?.counts).toMatchObject({ dances: 10, runs: 60 });
    expect(duration?.parameters[1].value).toBeGreaterThan(0.0015);
    expect(duration?.candidates.map(({ curve }) => curve)).toEqual(['line']);
  });

  test('a tempo that cannot be calibrated is left out with a warning', async () => {
    const content = (await readFile(observations, 'utf8')).replace(
      /^(.*-\d,(?:250|500|900|1400),[^,]*),[^,]*/gm,
      '$1,',
    );
    await writeFile(observations, content);
    const printed = await combtone(...calibrateArgs());
    expect(printed).toMatch(/Warning: Tempo is not calibrated: found one distance only \(100 m\)/);
    expect((await readCalibration(calibration)).tempo).toBeNull();
  });

  test.each([
    [
      'one feeder',
      'dance_id,distance_m,duration_s\na,300,0.5\nb,300,0.6\nc,300,0.7\n',
      /one distance only \(300 m\)/,
    ],
    ['times that fall', 'dance_id,distance_m,duration_s\na,300,0.9\nb,600,0.6\nc,900,0.35\n', /do not rise/],
    ['too few dances', 'dance_id,distance_m,duration_s\na,300,0.5\na,300,0.5\nb,600,0.6\n', /2 dances/],
  ])('refuses %s in one line and writes nothing', async (_, content, expected) => {
    await writeFile(observations, content);
    const failure = combtone(...calibrateArgs());
    await expect(failure).rejects.toThrow(expected);
    await expect(failure).rejects.not.toThrow(/\n/);
    expect(await readdir(folder)).toEqual(['observations.csv']);
  });
});

describe('combtone estimate', () => {
  let foraging: string;
  beforeEach(async () => {
    await combtone(...calibrateArgs(), '--curve', 'line', '--tempo-curve', 'line');
    foraging = join(folder, 'foraging.csv');
    await writeFile(
      foraging,
      'bee_id,dance_id,duration_s,circuits_per_15s\nred,f1,0.82,\nred,f1,0.78,\n,f2,,6\n,f3,,\n,f4,3.5,\n',
    );
  });
  const estimateArgs = () => ['estimate', '--calibration', calibration, '--observations', foraging];

  test('writes estimates.csv: by duration, by tempo, unknown, extrapolated', async () => {
    const out = join(folder, 'estimates.csv');
    const printed = await combtone(...estimateArgs(), '--out', out);
    expect(printed).toMatch(
      /^dance +bee +runs +used +mean run s +circuits per 15 s +distance m +from +to +level +in range +note$/m,
    );
    expect(printed).toMatch(/ 95 % +(yes|no)/);
    const [f1, f2, f3, f4] = (await readTable(out, estimateSchema)).map(({ row }) => row);
    expect(f1).toMatchObject({
      dance_id: 'f1',
      bee_id: 'red',
      run_count: 2,
      used_runs: 2,
      mean_duration_s: 0.8,
    });
    expect(f1).toMatchObject({ level: 0.95, in_range: true, note: null });
    expect(Math.abs(f1.distance_m! - 500)).toBeLessThan(60);
    expect(f1.distance_low_m).toBeLessThan(f1.distance_m!);
    expect(f1.distance_high_m).toBeGreaterThan(f1.distance_m!);
    expect(f2).toMatchObject({
      used_runs: 1,
      circuits_per_15s: 6,
      mean_duration_s: null,
      note: 'from tempo',
    });
    expect(Math.abs(f2.distance_m! - 625)).toBeLessThan(80);
    expect(f3).toMatchObject({ used_runs: 0, distance_m: null, in_range: null, note: 'no run timed' });
    expect(f4).toMatchObject({ in_range: false, note: 'extrapolated' });
  });

  test('--json prints the rows, --level changes the intervals only', async () => {
    const wide = JSON.parse(await combtone(...estimateArgs(), '--json', '--level', '0.99'));
    const narrow = JSON.parse(await combtone(...estimateArgs(), '--json', '--level', '0.5'));
    expect(Object.keys(wide[0])).toEqual(Object.keys(estimateSchema.shape));
    expect(narrow[0].distance_m).toBe(wide[0].distance_m);
    expect(narrow[0].distance_low_m).toBeGreaterThan(wide[0].distance_low_m);
    expect(narrow[0].level).toBe(0.5);
  });

  test('--feeders writes the probability near each feeder, --prior ends the distances thought of', async () => {
    const near = join(folder, 'near.csv');
    const printed = await combtone(...estimateArgs(), '--neighbourhoods', near, '--prior', '0-450');
    expect(printed).toMatch(/probability near +100 m +250 m +500 m +900 m +1400 m/);
    const rows = (await readTable(near, neighbourhoodSchema)).map(({ row }) => row);
    const own = rows.filter(({ dance_id }) => dance_id === 'f1');
    expect(own.map(({ feeder_m }) => feeder_m)).toEqual([100, 250, 500, 900, 1400]);
    expect(own[3]).toMatchObject({ from_m: 700, probability: 0 });
    expect(own[1].probability + own[2].probability).toBeGreaterThan(0.9);
    await expect(combtone(...estimateArgs(), '--prior', '900')).rejects.toThrow(
      /--prior: found "900"; wanted two/,
    );
  });

  test('a dance with both measures is told from both', async () => {
    await writeFile(foraging, 'dance_id,duration_s,circuits_per_15s\nf1,0.8,6.4\nf1,0.8,6.5\n');
    const [row] = JSON.parse(await combtone(...estimateArgs(), '--json'));
    expect(row.note).toBe('from duration and tempo');
    expect(Math.abs(row.distance_m - 500)).toBeLessThan(120);
  });

  test.each(['0', '1', '95', '-0.5', 'high', ''])('refuses --level %j', async (level) => {
    await expect(combtone(...estimateArgs(), '--level', level)).rejects.toThrow(
      `--level: found ${JSON.stringify(level)}; wanted a share between 0 and 1`,
    );
  });

  test.each([
    [
      'a newer format',
      (record: Record<string, unknown>) => ({ ...record, formatVersion: 99 }),
      /formatVersion: found 99, from a newer combtone/,
    ],
    [
      'an older format',
      (record: Record<string, unknown>) => ({ ...record, formatVersion: 1 }),
      /formatVersion: found 1, from an older combtone; wanted \d+: run combtone calibrate again/,
    ],
    ['another JSON file', () => ({ name: 'hive' }), /format: found no calibration/],
    [
      'an unknown curve',
      (record: { duration: object }) => ({ ...record, duration: { ...record.duration, curve: 'spiral' } }),
      /duration.curve/,
    ],
    [
      'parameters of another curve',
      (record: { duration: object }) => ({
        ...record,
        duration: { ...record.duration, curve: 'saturating' },
      }),
      /parameters of the saturating curve: found a, b; wanted a, c, L/,
    ],
    [
      'a covariance of the wrong size',
      (record: { duration: object }) => ({ ...record, duration: { ...record.duration, covariance: [[1]] } }),
      /covariance: found not 2 × 2 numbers/,
    ],
  ])('refuses %s', async (_, change, expected) => {
    const record = JSON.parse(await readFile(calibration, 'utf8'));
    await writeFile(calibration, JSON.stringify(change(record)));
    await expect(combtone(...estimateArgs())).rejects.toThrow(expected);
  });

  test('refuses a calibration that is no JSON, or not there', async () => {
    await writeFile(calibration, 'distance,duration\n');
    await expect(combtone(...estimateArgs())).rejects.toThrow(/found no calibration/);
    await rm(calibration);
    await expect(combtone(...estimateArgs())).rejects.toThrow(/calibration.json: found no such file/);
  });
});

test.each(['calibrate', 'estimate'])('%s --help carries a worked example', async (command) => {
  expect(await combtone(command, '--help')).toMatch(new RegExp(`Example:[^]*\\$ combtone ${command} --`));
});
