import type { Argument, Command, Option } from 'commander';

/** What a shell may offer for a value: one of some words, a file, a folder, or nothing that it could know. */
export type Offer = readonly string[] | 'file' | 'folder' | 'nothing';

/** One way to write an option, such as --out. */
export interface OptionWord {
  readonly word: string;
  readonly summary: string;
  /** null for an option without a value. */
  readonly value: Offer | null;
}

/** A command, or a command of a command, with the words that may follow it. */
export interface Place {
  /** Words from the program's name on, such as `study add`; empty for the program itself. */
  readonly path: string;
  readonly commands: readonly { readonly word: string; readonly summary: string }[];
  readonly options: readonly OptionWord[];
  /** What its arguments may be. */
  readonly argument: Offer;
}

const SHARED: readonly OptionWord[] = [
  { word: '--debug', summary: 'print stack traces', value: null },
  { word: '--help', summary: 'display help for command', value: null },
];

/** All places of a program, itself first. What `help` may be followed by is a place too. */
export function placesOf(program: Command): Place[] {
  const commands = program.commands.map(wordOf);
  const top: Place = {
    path: '',
    commands: [...commands, { word: 'help', summary: 'display help for command' }],
    options: [...program.options.flatMap(optionWords), ...SHARED],
    argument: 'nothing',
  };
  const help: Place = { path: 'help', commands: [], options: [], argument: commands.map(({ word }) => word) };
  return [top, ...program.commands.flatMap((command) => placesUnder(command, '')), help];
}

function placesUnder(command: Command, before: string): Place[] {
  const path = `${before} ${command.name()}`.trim();
  const own: Place = {
    path,
    commands: command.commands.map(wordOf),
    options: [...command.options.flatMap(optionWords), ...SHARED],
    argument: argumentOffer(command.registeredArguments),
  };
  return [own, ...command.commands.flatMap((inner) => placesUnder(inner, path))];
}

const wordOf = (command: Command) => ({ word: command.name(), summary: command.description() });

function optionWords(option: Option): OptionWord[] {
  const takes = option.required || option.optional;
  const value = takes ? (option.argChoices ?? namedOffer(option.flags)) : null;
  return [option.long, option.short].flatMap((word) =>
    word === undefined || word === null ? [] : [{ word, summary: option.description, value }],
  );
}

/** Options say by the name of their value what it is: `<file>`, `<folder>`, `<path>`. */
function namedOffer(flags: string): Offer {
  if (/[<[](file|path)/.test(flags)) return 'file';
  return /[<[]folder/.test(flags) ? 'folder' : 'nothing';
}

function argumentOffer(args: readonly Argument[]): Offer {
  const choices = args.flatMap((argument) => argument.argChoices ?? []);
  if (choices.length > 0) return choices;
  if (args.some((argument) => /recording|file|path/.test(argument.name()))) return 'file';
  return args.some((argument) => argument.name() === 'folder') ? 'folder' : 'nothing';
}
