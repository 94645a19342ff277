import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';

export const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** One file that names another. */
export interface Import {
  /** Importing file, from the root, with forward slashes. */
  readonly from: string;
  /** Imported file, likewise. */
  readonly to: string;
  /** Wiped out by the compiler. */
  readonly typeOnly: boolean;
}

/** TypeScript files under a folder, paths from the root with forward slashes. */
export function sourceFiles(folder: string): string[] {
  if (!existsSync(join(ROOT, folder))) return [];
  return readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.(ts|tsx)$/.test(entry.name) && !entry.name.endsWith('.d.ts'))
    .map((entry) => relative(ROOT, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .filter((path) => !path.includes('node_modules/'))
    .sort();
}

/** Every import and re-export of a file of our own: `import … from`, `export … from`, `import '…'`, `import('…')`. */
export function importsOf(from: string, source: string): Import[] {
  const code = source.replaceAll(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, '');
  const pattern =
    /\b(?:import|export)\s+(type\s+)?([^'";]*?)\bfrom\s*['"](\.[^'"]*)['"]|\bimport\s*\(?\s*['"](\.[^'"]*)['"]/g;
  return [...code.matchAll(pattern)].map(([, type, names, target, bare]) => ({
    from,
    to: join(dirname(from), (target ?? bare)!)
      .split(sep)
      .join('/'),
    typeOnly: type !== undefined || (names !== undefined && /^\{(\s*type\s[^,}]*,?)+\s*\}\s*$/.test(names)),
  }));
}

/** The folder under src that a file lives in; `root` for the leaves beside them, `face` for src/index.ts. */
export const roomOf = (path: string): string => {
  const parts = path.split('/');
  if (parts[0] !== 'src') return parts[0]!;
  if (path === 'src/index.ts') return 'face';
  return parts.length === 2 ? 'root' : parts[1]!;
};

const importsUnder = (paths: readonly string[]) =>
  paths.flatMap((path) => importsOf(path, readFileSync(join(ROOT, path), 'utf8')));

export const files = sourceFiles('src');
export const imports = importsUnder(files);
export const webFiles = sourceFiles('web');
export const webImports = importsUnder(webFiles);
