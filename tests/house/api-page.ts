import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { z } from 'zod';
import { calibrationRecordSchema } from '../../src/study/calibration-record.ts';
import {
  callSchema,
  danceSchema,
  estimateSchema,
  observationSchema,
  trainSchema,
} from '../../src/study/tables.ts';

const DIST = fileURLToPath(new URL('../../dist/', import.meta.url));

/** An exported declaration as the compiler wrote it, without its comment, and what the comment says. */
export interface Declaration {
  readonly name: string;
  readonly kind: 'function' | 'const' | 'class' | 'interface' | 'type';
  readonly comment: string;
  readonly code: string;
}

/** Rows and records whose types are inferred from these: their columns are told instead. */
const SCHEMAS: Readonly<Record<string, z.ZodObject>> = {
  trainSchema,
  callSchema,
  danceSchema,
  observationSchema,
  estimateSchema,
  calibrationRecordSchema,
};

/** Every name that a declaration file exports, with the file that declares it; re-exports are followed. */
export function exportedNames(file: string): Map<string, string> {
  const source = readFileSync(file, 'utf8');
  const found = new Map<string, string>();
  for (const [, names, target] of source.matchAll(/^export (?:type )?\{([^}]*)\} from '(\.[^']*)';/gm)) {
    const from = join(dirname(file), target!.replace(/\.ts$/, '.d.ts'));
    const there = exportedNames(from);
    for (const name of names!.split(',').map((part) => part.trim().replace(/^type /, ''))) {
      if (name !== '') found.set(name, there.get(name) ?? from);
    }
  }
  for (const [, name] of source.matchAll(
    /^export (?:declare )?(?:function|const|class|interface|type) (\w+)/gm,
  )) {
    found.set(name!, file);
  }
  return found;
}

/** The declaration of a name in a declaration file. */
export function declarationOf(file: string, name: string): Declaration {
  const source = readFileSync(file, 'utf8');
  const head = new RegExp(
    `(/\\*\\*(?:(?!\\*/)[\\s\\S])*\\*/\\n)?^export (?:declare )?(function|const|class|interface|type) ${name}\\b`,
    'm',
  ).exec(source);
  if (head === null) throw new Error(`${name} is not declared in ${file}`);
  const from = head.index + (head[1]?.length ?? 0);
  const kind = head[2] as Declaration['kind'];
  const code = spelledOut(statementAt(source, from, kind), source);
  return { name, kind, comment: plainComment(head[1] ?? ''), code };
}

/** A type made of the members of a list, with these members in place of the list's name. */
function spelledOut(code: string, source: string): string {
  const list = /= \(typeof (\w+)\)\[number\];$/.exec(code);
  const members = list && new RegExp(`const ${list[1]}: readonly \\[([^\\]]*)\\]`).exec(source)?.[1];
  return members ? code.replace(list[0], `= ${members.replaceAll('"', "'").split(', ').join(' | ')};`) : code;
}

/** From a statement's beginning to its end: the bracket that closes its body, or a semicolon outside brackets. */
function statementAt(source: string, from: number, kind: Declaration['kind']): string {
  const body = kind === 'class' || kind === 'interface';
  let depth = 0;
  for (let at = from; at < source.length; at++) {
    const char = source[at]!;
    if ('({['.includes(char)) depth++;
    if (')}]'.includes(char)) depth--;
    const ends = depth === 0 && (body ? char === '}' : char === ';');
    if (ends) return source.slice(from, at + 1).replace(/^export (declare )?/, '');
  }
  throw new Error(`no end of ${source.slice(from, from + 60)}`);
}

function plainComment(comment: string): string {
  return comment
    .replace(/^\/\*\*|\*\/\s*$/g, '')
    .replaceAll(/^ *\* ?/gm, '')
    .trim();
}

/** A comment as Markdown: what it says, then arguments, result and errors as a list. */
function commentText(comment: string): string {
  const [said, ...tags] = comment.split(/^@/m);
  const items = tags.map((tag) => {
    const flat = tag.trim().replaceAll(/\s+/g, ' ');
    return flat
      .replace(/^param (\S+) /, '- `$1`: ')
      .replace(/^returns /, '- gives ')
      .replace(/^throws (\S+) /, '- throws `$1` ');
  });
  return [said!.trim(), items.join('\n')].filter((part) => part !== '').join('\n\n');
}

function codeText({ code }: Declaration): string {
  const inferred = /z\.infer<typeof (\w+)>/.exec(code)?.[1];
  const schema = inferred === undefined ? undefined : SCHEMAS[inferred];
  if (schema !== undefined)
    return `Holds ${Object.keys(schema.shape)
      .map((key) => `\`${key}\``)
      .join(', ')}.`;
  return `\`\`\`ts\n${code.replaceAll('    ', '  ')}\n\`\`\``;
}

function sectionText(declaration: Declaration): string {
  const parts = [`### ${declaration.name}`, commentText(declaration.comment), codeText(declaration)];
  return parts.filter((part) => part !== '').join('\n\n');
}

/** All that the library exports, as declared. */
export function libraryDeclarations(): Declaration[] {
  return [...exportedNames(join(DIST, 'index.d.ts'))]
    .map(([name, file]) => declarationOf(file, name))
    .sort((a, b) => (a.name < b.name ? -1 : 1));
}

/** docs/api.md, made from the doc comments of what `src/index.ts` exports. */
export function apiPage(): string {
  const all = libraryDeclarations();
  const values = all.filter(({ kind }) => kind === 'function' || kind === 'const' || kind === 'class');
  const types = all.filter((declaration) => !values.includes(declaration));
  return `${[
    '# combtone in scripts',
    'Made from the doc comments of what `src/index.ts` exports, by `npx vitest run --dir tests tests/house/api -u`; a\ntest holds it up to date. Rows have the columns of the CSV tables, which [data-dictionary.md](data-dictionary.md)\nexplains; distances are metres, times seconds, angles degrees. Examples that run: [examples/](examples/).',
    "```js\nimport { calibrate, detect, estimate } from 'combtone';\n```",
    '## Functions',
    ...values.map(sectionText),
    '## Types',
    ...types.map(sectionText),
  ].join('\n\n')}\n`;
}
