import { type Command, Option } from 'commander';
import { InputError } from '../input-error.ts';
import { disturbanceNames } from '../simulate/disturbance-names.ts';
import { loadedFactor } from '../simulate/loaded-factor.ts';
import type { SimulateOptions } from './simulate-run.ts';

const example = `
Example:
  $ combtone simulate --out simulated --minutes 10 --seed 7 --snr 6 --distances 100,300,900
  writes simulated/simulated.wav, and beside it simulated/simulated-truth/ with trains.csv, calls.csv,
  dances.csv, pulses.csv (every pulse's onset and offset) and simulation.json (all settings).
  The data are simulated: use them to try and to test, never as observations.

SNR is the mean power of a pulse while it sounds over the background's power in 200 to 400 Hz within 2 s.
`;

/** Adds `combtone simulate`: a recording of a simulated hive, with the truth about it. */
export function registerSimulate(program: Command): void {
  const whole = (name: string, low: number, high: number) => numberOf(name, low, high, true);
  const real = (name: string, low: number, high: number) => numberOf(name, low, high, false);
  program
    .command('simulate')
    .description('make a simulated recording of a hive, with known truth')
    .requiredOption('--out <folder>', 'folder for the recording and its truth; made when absent')
    .option('--name <name>', 'name of the recording, without ending', nameOf, 'simulated')
    .option('--seed <n>', 'the same seed gives the same recording', whole('--seed', 0, 2 ** 32 - 1), 1)
    .option('--minutes <min>', 'length', real('--minutes', 0.05, 10_080), 10)
    .option('--sample-rate <hz>', '8000 to 192000', whole('--sample-rate', 8000, 192_000), 8000)
    .addOption(new Option('--encoding <name>', 'samples').choices(['pcm16', 'float32']).default('pcm16'))
    .option('--channels <n>', 'microphones, 1 to 16', whole('--channels', 1, 16), 1)
    .option('--start-time <time>', 'clock time of the start, ISO 8601')
    .option('--snr <db>', 'SNR of waggle runs, dB', real('--snr', -60, 100), 6)
    .option(
      '--call-snr <db>',
      'SNR of calls and other sounds, dB (default: that of runs)',
      real('--call-snr', -60, 100),
    )
    .option('--background <folder>', 'lay the sounds on the WAVE files of a folder, not on made noise')
    .option('--dances-per-hour <n>', 'how often a dance begins', real('--dances-per-hour', 0, 10_000), 60)
    .option('--dancers <n>', 'bees that may dance at once', whole('--dancers', 1, 20), 1)
    .option('--bees <n>', 'dancers in the hive', whole('--bees', 1, 1000), 12)
    .option('--distances <list>', 'feeder distances in m, such as 100,300,900', distancesOf)
    .option(
      '--loaded <share>',
      `share of dances by bees with a load, 0 to 1; their runs last ${loadedFactor} times as long, a figure made up`,
      real('--loaded', 0, 1),
    )
    .option('--calls <factor>', 'other sounds, times the usual number', real('--calls', 0, 100), 1)
    .addOption(new Option('--disturbance <names...>', 'disturb the recording').choices([...disturbanceNames]))
    .option('--json', 'print what was made as JSON')
    .addHelpText('after', example)
    .action(async (options: SimulateOptions) => {
      const { runSimulate } = await import('./simulate-run.ts');
      await runSimulate(options);
    });
}

function numberOf(option: string, low: number, high: number, isWhole: boolean): (text: string) => number {
  return (text) => {
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (value >= low && value <= high && (!isWhole || Number.isInteger(value))) return value;
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: `a ${isWhole ? 'whole ' : ''}number from ${low} to ${high}`,
    });
  };
}

function distancesOf(text: string): number[] {
  const distances = text.split(',').map((cell) => (cell.trim() === '' ? Number.NaN : Number(cell)));
  if (distances.every((distance) => distance >= 0 && distance <= 20_000)) return distances;
  throw new InputError({
    file: '--distances',
    found: JSON.stringify(text),
    wanted: 'distances in m from 0 to 20000, separated by commas, such as 100,300,900',
  });
}

function nameOf(text: string): string {
  if (/^[^/\\]+$/.test(text) && text !== '.' && text !== '..') return text;
  throw new InputError({
    file: '--name',
    found: JSON.stringify(text),
    wanted: 'a name without folders; the folder is --out',
  });
}
