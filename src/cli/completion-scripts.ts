import type { Offer, Place } from './completion-words.ts';

/** Shells that a script can be made for. */
export const shells = ['bash', 'zsh', 'fish'] as const;
export type Shell = (typeof shells)[number];

/** A script by which a shell completes the words of `combtone`. It asks nothing of combtone when it runs. */
export function completionScript(shell: Shell, places: readonly Place[]): string {
  return { bash: bashScript, zsh: zshScript, fish: fishScript }[shell](places);
}

/** Between single quotes, as bash and zsh read them. */
const quoted = (text: string) => `'${text.replaceAll("'", "'\\''")}'`;
const indented = (lines: readonly string[]) => lines.map((line) => `    ${line}`);

/** Cases by which the words so far lead from the program to the command that is being written. */
function stepCases(places: readonly Place[]): string[] {
  const paths = new Set(places.map(({ path }) => path));
  return places.flatMap(({ path, commands }) =>
    commands
      .map(({ word }) => ({ word, to: `${path} ${word}`.trim() }))
      .filter(({ to }) => paths.has(to))
      .map(({ word, to }) => `${quoted(`${path} ${word}`)}) place=${quoted(to)} ;;`),
  );
}

/** Cases of options that want a value after them, alike ones together. */
function valueCases(places: readonly Place[], action: (value: Offer) => string): string[] {
  const byAction = new Map<string, string[]>();
  for (const { path, options } of places) {
    for (const { word, value } of options) {
      if (value === null) continue;
      const found = byAction.get(action(value)) ?? [];
      byAction.set(action(value), [...found, quoted(`${path} ${word}`)]);
    }
  }
  return [...byAction].map(([what, words]) => `${words.join(' | ')}) ${what} ;;`);
}

function bashScript(places: readonly Place[]): string {
  // Nothing offered means file names, by `-o default`, which `compopt` (bash 4) can turn off.
  const none = 'type compopt > /dev/null 2>&1 && compopt +o default';
  const offer = (value: Offer) =>
    Array.isArray(value)
      ? `COMPREPLY=($(compgen -W ${quoted(value.join(' '))} -- "$word"))`
      : value === 'nothing'
        ? none
        : ':';
  const wordCases = places.map(({ path, commands, options, argument }) => {
    const all = [...commands, ...options].map(({ word }) => word);
    const words = [...(Array.isArray(argument) ? argument : []), ...all].join(' ');
    // Where files may stand, options are offered once a dash is written.
    const files = argument === 'file' || argument === 'folder';
    return `${quoted(path)}) words=${quoted(words)} files=${files ? 1 : 0} ;;`;
  });
  return [
    '# bash completion for combtone; made by: combtone completion bash',
    '_combtone() {',
    `  local word="\${COMP_WORDS[COMP_CWORD]}" before="\${COMP_WORDS[COMP_CWORD - 1]}"`,
    "  local place='' words='' files=0 i",
    '  COMPREPLY=()',
    '  for ((i = 1; i < COMP_CWORD; i++)); do',
    `    case "$place \${COMP_WORDS[i]}" in`,
    ...indented(stepCases(places)),
    '    esac',
    '  done',
    '  case "$place $before" in',
    ...indented(valueCases(places, (value) => `${offer(value)}; return`)),
    '  esac',
    '  case "$place" in',
    ...indented(wordCases),
    '  esac',
    '  if [[ $files == 1 && $word != -* ]]; then return; fi',
    '  COMPREPLY=($(compgen -W "$words" -- "$word"))',
    `  if [[ \${#COMPREPLY[@]} == 0 ]]; then ${none}; fi`,
    '  return 0',
    '}',
    'complete -o default -F _combtone combtone',
    '',
  ].join('\n');
}

function zshScript(places: readonly Place[]): string {
  const offer = (value: Offer) => {
    if (Array.isArray(value)) return `compadd -- ${value.map(quoted).join(' ')}`;
    return { file: '_files', folder: '_files -/', nothing: ':' }[value as 'file' | 'folder' | 'nothing'];
  };
  const wordCases = places.map(({ path, commands, options, argument }) => {
    const described = [...commands, ...options].map(({ word, summary }) =>
      quoted(`${word}:${summary.replaceAll('\n', ' ')}`),
    );
    return `${quoted(path)}) names=(${described.join(' ')}); ${argument === 'nothing' ? ':' : offer(argument)} ;;`;
  });
  return [
    '#compdef combtone',
    '# zsh completion for combtone; made by: combtone completion zsh',
    '_combtone() {',
    "  local place='' i",
    '  local -a names',
    '  for ((i = 2; i < CURRENT; i++)); do',
    `    case "$place \${words[i]}" in`,
    ...indented(stepCases(places)),
    '    esac',
    '  done',
    `  case "$place \${words[CURRENT-1]}" in`,
    ...indented(valueCases(places, (value) => `${offer(value)}; return`)),
    '  esac',
    '  case "$place" in',
    ...indented(wordCases),
    '  esac',
    "  _describe 'combtone' names",
    '}',
    `if [[ "\${funcstack[1]}" == _combtone ]]; then _combtone "$@"; else compdef _combtone combtone; fi`,
    '',
  ].join('\n');
}

function fishScript(places: readonly Place[]): string {
  const escaped = (text: string) => `'${text.replaceAll('\\', '\\\\').replaceAll("'", "\\'")}'`;
  const offer = (value: Offer) => {
    if (Array.isArray(value)) return `-x -a ${escaped(value.join(' '))}`;
    return { file: '-r -F', folder: "-x -a '(__fish_complete_directories)'", nothing: '-x' }[
      value as 'file' | 'folder' | 'nothing'
    ];
  };
  const lines = places.flatMap(({ path, commands, options, argument }) => {
    const inner = commands.map(({ word }) => word).join(' ');
    const seen = path.split(' ').map((word) => `__fish_seen_subcommand_from ${word}`);
    const tests = path === '' ? ['__fish_use_subcommand'] : seen;
    const here = [
      ...tests,
      ...(path !== '' && inner !== '' ? [`not __fish_seen_subcommand_from ${inner}`] : []),
    ];
    const start = `complete -c combtone -n ${escaped(here.join('; and '))}`;
    return [
      ...commands.map(({ word, summary }) => `${start} -f -a ${word} -d ${escaped(summary)}`),
      ...options.map(({ word, summary, value }) => {
        const name = word.startsWith('--') ? `-l ${word.slice(2)}` : `-s ${word.slice(1)}`;
        return `${start} ${name}${value === null ? '' : ` ${offer(value)}`} -d ${escaped(summary)}`;
      }),
      ...(argument === 'nothing' ? [] : [argumentLine(start, argument, offer)]),
    ];
  });
  return [
    '# fish completion for combtone; made by: combtone completion fish',
    'complete -c combtone -e',
    'complete -c combtone -f',
    ...lines,
    '',
  ].join('\n');
}

/** `-x` and `-r` speak of an option's value; of an argument, `-f` and `-F` do. */
function argumentLine(start: string, argument: Offer, offer: (value: Offer) => string): string {
  return `${start} ${offer(argument).replace(/^-x/, '-f').replace(/^-r /, '')}`;
}
