#!/usr/bin/env node
import { Command } from 'commander';
import { combtoneVersion } from '../study/version.ts';
import { COMMANDS } from './commands.ts';
import { reportFailure } from './failure.ts';
import { refuseOverwriting } from './kept-inputs.ts';
import { asksVersionJson, versionRecord } from './version.ts';

const intro =
  'Times the sound of honeybee waggle runs in recordings made inside a hive, and turns run durations into distances ' +
  'with honest intervals. To see the whole job done on a simulated study: combtone demo. To begin one of your own: ' +
  'combtone study --help. Each command explains itself: combtone detect --help';

async function main(words: readonly string[]): Promise<void> {
  const program = new Command('combtone');
  program
    .description(intro)
    .version(combtoneVersion)
    .option('--debug', 'print stack traces')
    .exitOverride()
    .configureOutput({ outputError: () => {} })
    .showHelpAfterError(false)
    .hook('preAction', (_, command) => refuseOverwriting(command));
  const asked = words.find((word) => !word.startsWith('-'));
  const entry = asked !== undefined && Object.hasOwn(COMMANDS, asked) ? COMMANDS[asked]! : null;
  if (entry !== null) {
    const register = await entry.load();
    register(program);
  } else {
    for (const [name, { summary, group }] of Object.entries(COMMANDS)) {
      program.commandsGroup(group).command(name).description(summary);
    }
    program.helpCommand(true);
  }
  for (const command of program.commands) {
    command.exitOverride().configureOutput({ outputError: () => {} });
    command.option('--debug', 'print stack traces');
  }
  // Help of a command that is not there would be shown for another.
  const known = namesUnknown(program, words) ? words.filter((word) => !HELP.includes(word)) : words;
  await program.parseAsync(known, { from: 'user' });
}

const HELP = ['--help', '-h'];

/** Whether the words name a command that is not there. */
function namesUnknown(program: Command, words: readonly string[]): boolean {
  let command = program;
  for (const word of words.filter((word) => !word.startsWith('-'))) {
    if (command.commands.length === 0) return false;
    const next = command.commands.find((inner) => inner.name() === word);
    if (next === undefined) return word !== 'help';
    command = next;
  }
  return false;
}

const given = process.argv.slice(2);
/** `help study add` asks what `study add --help` does. */
const words = given[0] === 'help' ? [...given.slice(1), '--help'] : given;
// A reader that has seen enough, such as `head`, closes the pipe: that is no failure of the work.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  process.exitCode = error.code === 'EPIPE' ? 0 : reportFailure(error, words.includes('--debug'));
});
try {
  if (asksVersionJson(words)) process.stdout.write(`${JSON.stringify(versionRecord(), null, 2)}\n`);
  else await main(words.length === 0 ? ['--help'] : words);
} catch (error) {
  process.exitCode = reportFailure(error, words.includes('--debug'));
}
