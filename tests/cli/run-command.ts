import { Command } from 'commander';
import { expect, vi } from 'vitest';
import { InputError } from '../../src/input-error.ts';

/** Runs a command as the program would, and gives back what it printed on stdout. */
export async function runCommand(
  register: (program: Command) => void,
  args: readonly string[],
): Promise<string> {
  const program = new Command().exitOverride();
  register(program);
  let printed = '';
  const collect = (text: unknown) => {
    printed += String(text);
    return true;
  };
  for (const command of [program, ...program.commands]) {
    command.exitOverride().configureOutput({ writeOut: collect, writeErr: () => {} });
  }
  const spy = vi.spyOn(process.stdout, 'write').mockImplementation(collect);
  try {
    await program.parseAsync([...args], { from: 'user' });
  } catch (error) {
    if ((error as { code?: string }).code !== 'commander.helpDisplayed') throw error;
  } finally {
    spy.mockRestore();
  }
  return printed;
}

/** What a command says to a call that it refuses; it must print nothing else. */
export async function refusalOf(
  register: (program: Command) => void,
  args: readonly string[],
): Promise<string> {
  try {
    expect(await runCommand(register, args)).toBe('refused');
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return '';
}
