#!/usr/bin/env node
import { Command } from 'commander';
import { combtoneVersion } from '../study/version.ts';
import { COMMANDS } from './commands.ts';
import { reportFailure } from './failure.ts';

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
  const asked = words.find((word) => !word.startsWith('-') && word !== 'help');
  const entry = asked !== undefined && Object.hasOwn(COMMANDS, asked) ? COMMANDS[asked]! : null;
  if (entry !== null) {
    const register = await entry.load();
    register(program);
  } else {
    for (const [name, { summary }] of Object.entries(COMMANDS)) program.command(name).description(summary);
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
