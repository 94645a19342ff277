import { Argument, Command } from 'commander';
import type { CommandEntry } from './command-entry.ts';
import { completionScript, type Shell, shells } from './completion-scripts.ts';
import { placesOf } from './completion-words.ts';

const example = `
Example:
  $ combtone completion bash > ~/.local/share/bash-completion/completions/combtone
  from the next terminal on, the tab key completes commands, options and the values that an option knows
  $ combtone completion zsh > ~/.zsh/completions/_combtone        where fpath holds ~/.zsh/completions
  $ combtone completion fish > ~/.config/fish/completions/combtone.fish
`;

/** Adds `combtone completion`: a script for the shell, made from the commands as they are defined. */
export function registerCompletion(program: Command, commands: Readonly<Record<string, CommandEntry>>): void {
  program
    .command('completion')
    .description('print a script that lets the shell complete commands and options')
    .addArgument(new Argument('<shell>', 'that the script is for').choices([...shells]))
    .addHelpText('after', example)
    .action(async (shell: Shell) => {
      process.stdout.write(completionScript(shell, placesOf(await wholeProgram(commands))));
    });
}

/** The program with every command, which a call otherwise reads one of. */
async function wholeProgram(commands: Readonly<Record<string, CommandEntry>>): Promise<Command> {
  const whole = new Command('combtone').option('-V, --version', 'output the version number');
  const registers = await Promise.all(Object.values(commands).map(({ load }) => load()));
  for (const register of registers) register(whole);
  return whole;
}
