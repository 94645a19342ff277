import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test, vi } from 'vitest';
import { registerMap } from '../../src/cli/map.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';
import { refusalOf, runCommand } from './run-command.ts';

const at = temporaryFolder();

const put = async (name: string, content: string): Promise<string> => {
  await writeFile(at(name), content);
  return at(name);
};

const HIVE = ['--latitude', '48', '--longitude', '11'];
const ESTIMATES = `dance_id,used_runs,distance_m,distance_low_m,distance_high_m,level,in_range,note
d1,5,800,600,1050,0.95,true,
d2,3,300,210,420,0.95,true,
d3,2,,,,0.95,false,too near to read
`;
const BEARINGS = `dance_id,bearing_deg,bearing_low_deg,bearing_high_deg,level,direction_dof
d1,58,46,70,0.95,12
d2,355,340,10,0.95,
d3,100,80,120,0.95,12
d9,100,80,120,0.95,12
`;

const FILES = ['density.asc', 'density.prj', 'map.geojson', 'places.csv'];

// Run in this process, for there are many calls.
const printed = (...args: readonly string[]) => runCommand(registerMap, args);
const refusal = (...args: readonly string[]) => refusalOf(registerMap, args);

describe('combtone map', () => {
  test('writes regions, grid and table, the same to the byte each time', async () => {
    const estimates = await put('estimates.csv', ESTIMATES);
    const bearings = await put('bearings.csv', BEARINGS);
    const feeders = await put('feeders.csv', 'feeder_id,distance_m,bearing_deg\nf1,400,10\n');
    const call = ['map', '--estimates', estimates, '--bearings', bearings, '--feeders', feeders, ...HIVE];
    const [first, second] = [at('map'), at('again')];
    const ran = await combtone(...call, '--out', first, '--json');
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(await printed(...call, '--out', second, '--json')).toBe(ran.stdout);
    expect((await readdir(first)).sort()).toEqual(FILES);
    for (const name of FILES) {
      expect(await readFile(join(second, name), 'utf8')).toBe(await readFile(join(first, name), 'utf8'));
    }
    const { regions, places, total } = JSON.parse(ran.stdout);
    expect(total).toBe(2);
    expect(regions.map(({ level }: { level: number }) => level)).toEqual([0.5, 0.8, 0.95]);
    expect(places[0].area_50_ha).toBeLessThan(places[0].area_95_ha);
    expect(places[2]).toMatchObject({
      weight: null,
      area_95_ha: null,
      note: expect.stringMatching(/not mapped/),
    });

    const { type, features } = JSON.parse(await readFile(join(first, 'map.geojson'), 'utf8'));
    expect(type).toBe('FeatureCollection');
    const kinds = features.map((feature: { properties: { kind: string } }) => feature.properties.kind);
    const count = (kind: string) => kinds.filter((one: string) => one === kind).length;
    expect(['hive', 'feeder', 'foraging region', 'goal', 'dance region'].map(count)).toEqual([1, 1, 3, 2, 6]);

    const grid = await readFile(join(first, 'density.asc'), 'utf8');
    const cell = Number(/cellsize (.*)/.exec(grid)![1]);
    const values = grid.split('\n').slice(6).join(' ').trim().split(/\s+/).map(Number);
    expect(values).toHaveLength(Number(/ncols (.*)/.exec(grid)![1]) * Number(/nrows (.*)/.exec(grid)![1]));
    // Dances per hectare, over all hectares, are the dances.
    const dances = (values.reduce((sum, value) => sum + value, 0) * (cell * cell)) / 1e4;
    expect(dances).toBeCloseTo(2, 3);
    const table = await readFile(join(first, 'places.csv'), 'utf8');
    expect(table).toMatch(/^dance_id,bee_id,weight,distance_m/);
    expect(table.trim().split('\n')).toHaveLength(4);
  });

  test('weighted by runs, in cells of a wanted size, for people', async () => {
    const estimates = await put('weighted.csv', ESTIMATES);
    const bearings = await put('for weighted.csv', BEARINGS);
    const stdout = await printed(
      ...['map', '--estimates', estimates, '--bearings', bearings, ...HIVE],
      ...['--weight', 'runs', '--cell', '20', '--json'],
    );
    expect(JSON.parse(stdout)).toMatchObject({ weight: 'runs', total: 8, cell_m: 20 });
    const text = await printed('map', '--estimates', estimates, '--bearings', bearings, ...HIVE);
    expect(text).toMatch(/2 dances mapped, 1 left out[\s\S]*a probability, not a finding/);
    // Of two dances a region holds its share, spread over its ground.
    const means = [...text.matchAll(/^ *(\d+) % +([\d.]+) +([\d.]+) *$/gm)].map(([, ...cells]) =>
      cells.map(Number),
    );
    expect(means.map(([share]) => share)).toEqual([50, 80, 95]);
    for (const [share, areaHa, mean] of means)
      expect(mean! / ((share! / 100) * (2 / areaHa!))).toBeCloseTo(1, 2);
  });

  test('takes posteriors of distance in place of intervals', async () => {
    const estimates = await put('with posteriors.csv', ESTIMATES);
    const bearings = await put('beside posteriors.csv', BEARINGS);
    const posteriors = await put(
      'posteriors.csv',
      'dance_id,distance_m,density\nd1,2000,0\nd1,2100,1\nd1,2200,0\nd3,40,0\nd3,60,2\nd3,90,0\n',
    );
    const stdout = await printed(
      ...[
        'map',
        '--estimates',
        estimates,
        '--bearings',
        bearings,
        '--posteriors',
        posteriors,
        ...HIVE,
        '--json',
      ],
    );
    const { total, rows, south_m, cell_m } = JSON.parse(stdout);
    expect(total).toBe(3);
    // d1 now lies 2 km out at 46 to 70 degrees: the map reaches at least 1.5 km north.
    expect(south_m + rows * cell_m).toBeGreaterThan(1500);
  });
});

describe('combtone map of dances of several treatments', () => {
  const said = async (...args: readonly string[]) => {
    let text = '';
    const spy = vi.spyOn(process.stderr, 'write').mockImplementation((line) => {
      text += String(line);
      return true;
    });
    try {
      return { total: JSON.parse(await printed(...args, '--json')).total as number, text };
    } finally {
      spy.mockRestore();
    }
  };

  test('leaves out those of another treatment than the curve’s, and says so, unless they are asked for', async () => {
    const rows = ['reference,', 'loaded,', 'loaded,loaded'];
    const estimates = await put(
      'treated.csv',
      `${ESTIMATES.split('\n')[0]},treatment,curve_treatment\n${rows
        .map((treatments, k) => `d${k + 1},5,800,600,1050,0.95,true,,${treatments}\n`)
        .join('')}`,
    );
    const call = ['map', '--estimates', estimates, '--bearings', await put('all.csv', BEARINGS), ...HIVE];
    expect(await said(...call)).toEqual({
      total: 2,
      text: 'combtone: warning: dance d2 not mapped: of treatment loaded, estimated by the curve of untreated bees; combtone map --all-treatments maps it\n',
    });
    const all = await said(...call, '--all-treatments');
    expect(all.total).toBe(3);
    expect(all.text).toMatch(/^combtone: warning: 1 dance of treatment loaded was estimated by [^\n]*\n$/);
  });
});

describe('combtone map refuses', () => {
  test.each([
    [
      'an observation without an angle',
      ESTIMATES,
      BEARINGS.replace('d1,58,46,70,0.95', 'd1,,,,'),
      HIVE,
      /row 2, column bearing_deg: found no bearing for dance d1; wanted a bearing for each dance/,
    ],
    [
      'a dance without a bearing',
      ESTIMATES,
      BEARINGS.replace('d1,', 'x1,'),
      HIVE,
      /row 2, column dance_id: found dance d1, which has no row in/,
    ],
    [
      'a bearing without its interval',
      ESTIMATES,
      BEARINGS.replace('46,70', ','),
      HIVE,
      /row 2, column bearing_low_deg: found an empty cell for dance d1/,
    ],
    [
      'an interval about another bearing',
      ESTIMATES,
      BEARINGS.replace('46,70', '60,90'),
      HIVE,
      /row 2, column bearing_low_deg: found 60 to 90 about 58/,
    ],
    [
      'a bearing that is no number',
      ESTIMATES,
      BEARINGS.replace('58', 'east'),
      HIVE,
      /row 2, column bearing_deg: found "east"; wanted a number/,
    ],
    [
      'a dance that stands twice',
      ESTIMATES,
      BEARINGS.replace('d2,', 'd1,'),
      HIVE,
      /row 3, column dance_id: found dance d1, which row 2 has already/,
    ],
    [
      'a distance outside its interval',
      ESTIMATES.replace('1050', '700'),
      BEARINGS,
      HIVE,
      /row 2, column distance_m: found 800 m with the interval 600 to 700 m/,
    ],
    [
      'a distance without its interval',
      ESTIMATES.replace('1050', ''),
      BEARINGS,
      HIVE,
      /row 2, column distance_high_m: found an empty cell/,
    ],
    [
      'no distance at all',
      ESTIMATES.split('\n')
        .filter((line) => !/^d[12]/.test(line))
        .join('\n'),
      BEARINGS,
      HIVE,
      /found no dance with a distance/,
    ],
    ['latitude 91', ESTIMATES, BEARINGS, ['--latitude', '91', '--longitude', '11'], /--latitude: found "91"/],
    ['a hive without coordinates', ESTIMATES, BEARINGS, [], /a hive without latitude/],
    [
      'cells too small',
      ESTIMATES,
      BEARINGS,
      [...HIVE, '--cell', '0.1'],
      /--cell: found 0\.1 m, which makes \d+ million cells; wanted cells of at least/,
    ],
  ])('%s', async (name, estimates, bearings, options, wanted) => {
    const refused = await refusal(
      ...['map', '--estimates', await put(`estimates, ${name}.csv`, estimates)],
      ...[
        '--bearings',
        await put(`bearings, ${name}.csv`, bearings),
        ...options,
        '--out',
        at(`never ${name}`),
      ],
    );
    expect(refused).toMatch(wanted);
    expect((await readdir(at('.'))).filter((file) => /^never|\.tmp$/.test(file))).toEqual([]);
  });

  test('a posterior that is none', async () => {
    const call = [
      'map',
      '--estimates',
      await put('e.csv', ESTIMATES),
      '--bearings',
      await put('b.csv', BEARINGS),
    ];
    const posteriors = await put('p.csv', 'dance_id,distance_m,density\nd1,200,1\nd1,100,1\n');
    expectRefused(
      await combtone(...call, ...HIVE, '--posteriors', posteriors),
      /p\.csv, row 2 on, dance d1: found distances that do not rise/,
    );
  });
});
