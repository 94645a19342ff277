import { describe, expect, test } from 'vitest';
import { simulateHive } from '../../src/simulate/index.ts';
import { type Loaded, packagesLoaded } from './loaded-packages.ts';
import { temporaryFolder } from './run-combtone.ts';

const inFolder = temporaryFolder();
const names = (loaded: readonly Loaded[]) => [...new Set(loaded.map(({ name }) => name))].sort();

// Help, completion and refusals read the command's declaration alone: no package may come with it but the one that
// reads calls.
describe.concurrent('a command loads what its work needs only when it works', () => {
  test('to declare every command, as completion does, loads nothing', async () => {
    const loaded = await packagesLoaded('completion', 'bash');
    expect(loaded.filter(({ name }) => name !== 'commander')).toEqual([]);
    // Declarations with choices import commander themselves: they were read, and seen.
    const declaring = loaded.map(({ by }) => /\/cli\/([\w-]+)\.js$/.exec(by)?.[1]);
    expect(declaring).toEqual(expect.arrayContaining(['calibrate', 'map', 'simulate']));
  });

  test.each([
    'map --help',
    'study note --help',
    'detect',
    'detect --study summer one.wav',
    'detect one.wav --queue nowhere',
    'calibrate --observations runs.csv',
    'estimate --observations runs.csv',
    'compare',
    'bearing --study summer --elevation 100',
    'map --estimates estimates.csv',
    'export --study summer --out tables --recording one',
    'study status',
    'study init summer --latitude 91',
  ])('nor does what is answered by its words alone: %s', async (call) => {
    expect(names(await packagesLoaded(...call.split(' ')))).toEqual(['commander']);
  });

  test('nor does a search in a file load tables, stores, queues and threads that it has no use for', async () => {
    const { recordingPath } = await simulateHive(inFolder('made'), 'short', { seed: 8, lengthS: 1 });
    // luxon comes last, to tell how recordings follow one another.
    const needed = ['commander', 'd3-array', 'fft.js', 'luxon', 'meyda', 'wav-decoder'];
    expect(names(await packagesLoaded('detect', recordingPath))).toEqual(needed);
  });

  test('what work needs is seen here when it begins', async () => {
    const loaded = await packagesLoaded('study', 'status', inFolder('nowhere'));
    expect(names(loaded)).toEqual(expect.arrayContaining(['better-sqlite3', 'commander', 'zod']));
  });
});
