import { execFile } from 'node:child_process';
import { MAIN } from './run-combtone.ts';

/** A package that a call loaded, and the file that asked for it. */
export interface Loaded {
  readonly name: string;
  readonly by: string;
}

const MARK = 'package loaded: ';

/** Tells on stderr of each import that names a package; runs beside the program, as the loader's hooks do. */
const hooks = `
import { writeSync } from 'node:fs';
export function resolve(specifier, context, next) {
  const isPackage = /^[@a-z]/.test(specifier) && !/^(node|file|data):/.test(specifier);
  if (isPackage) writeSync(2, ${JSON.stringify(MARK)} + JSON.stringify({ name: specifier, by: context.parentURL }) + '\\n');
  return next(specifier, context);
}`;
const dataUrl = (code: string) => `data:text/javascript,${encodeURIComponent(code)}`;
const register = dataUrl(
  `import { register } from 'node:module'; register(${JSON.stringify(dataUrl(hooks))});`,
);

/** Which packages the project's own files load where the built command is called so, in the order of loading. */
export function packagesLoaded(...args: readonly string[]): Promise<Loaded[]> {
  return new Promise((resolve) => {
    execFile(
      process.execPath,
      ['--import', register, MAIN, ...args],
      { maxBuffer: 1 << 26 },
      (_, __, stderr) =>
        resolve(
          stderr
            .split('\n')
            .filter((line) => line.startsWith(MARK))
            .map((line) => JSON.parse(line.slice(MARK.length)) as Loaded)
            .filter(({ by }) => !by.includes('/node_modules/')),
        ),
    );
  });
}
