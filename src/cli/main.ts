#!/usr/bin/env node
import { Command } from 'commander';
import { combtoneVersion } from '../study/version.ts';
import { reportFailure } from './failure.ts';

/** The commands, each in a file of its own that is read only when it is asked for. */
const COMMANDS: Readonly<Record<string, () => Promise<(program: Command) => void>>> = {
  demo: async () => (await import('./demo.ts')).registerDemo,
  simulate: async () => (await import('./simulate.ts')).registerSimulate,
  detect: async () => (await import('./detect.ts')).registerDetect,
  calibrate: async () => (await import('./calibrate.ts')).registerCalibrate,
  estimate: async () => (await import('./estimate.ts')).registerEstimate,
  compare: async () => (await import('./compare.ts')).registerCompare,
  plan: async () => (await import('./plan.ts')).registerPlan,
  bearing: async () => (await import('./bearing.ts')).registerBearing,
  map: async () => (await import('./map.ts')).registerMap,
  day: async () => (await import('./day.ts')).registerDay,
  report: async () => (await import('./report.ts')).registerReport,
  export: async () => (await import('./export.ts')).registerExport,
  study: async () => (await import('./study.ts')).registerStudy,
  review: async () => (await import('./review.ts')).registerReview,
  agree: async () => (await import('./agree.ts')).registerAgree,
};

const intro = `
Times the sound of honeybee waggle runs in recordings made inside a hive, and turns run durations into
distances with honest intervals. Each command explains itself: combtone detect --help`;

async function main(words: readonly string[]): Promise<void> {
  const program = new Command('combtone');
  program
    .description(intro.trim())
    .version(combtoneVersion)
    .option('--debug', 'print stack traces')
    .exitOverride()
    .configureOutput({ outputError: () => {} })
    .showHelpAfterError(false);
  const asked = words.find((word) => !word.startsWith('-'));
  const wanted = asked !== undefined && Object.hasOwn(COMMANDS, asked) ? [asked] : Object.keys(COMMANDS);
  for (const name of wanted) {
    const register = await COMMANDS[name]!();
    register(program);
  }
  for (const command of program.commands) {
    command.exitOverride().configureOutput({ outputError: () => {} });
    command.option('--debug', 'print stack traces');
  }
  await program.parseAsync(words, { from: 'user' });
}

const words = process.argv.slice(2);
// A reader that has seen enough, such as `head`, closes the pipe: that is no failure of the work.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  process.exitCode = error.code === 'EPIPE' ? 0 : reportFailure(error, words.includes('--debug'));
});
try {
  await main(words.length === 0 ? ['--help'] : words);
} catch (error) {
  process.exitCode = reportFailure(error, words.includes('--debug'));
}
