import { execFile } from 'node:child_process';
import { mkdir, readFile, symlink } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

export const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const run = promisify(execFile);

/** What `npm pack` says of the tarball it made. */
export interface Packed {
  readonly filename: string;
  /** Bytes of the tarball, and of the files in it. */
  readonly size: number;
  readonly unpackedSize: number;
  readonly files: readonly { readonly path: string; readonly size: number }[];
}

/** Packs what was built, as it stands, into a folder, without asking any network. */
export async function pack(folder: string): Promise<Packed> {
  const words = ['pack', '--json', '--ignore-scripts', '--pack-destination', folder];
  const env = { ...process.env, npm_config_offline: 'true', npm_config_update_notifier: 'false' };
  const { stdout } = await run('npm', words, {
    cwd: ROOT,
    env,
    maxBuffer: 1 << 26,
    shell: process.platform === 'win32',
  });
  const told = JSON.parse(stdout) as Packed[] | Record<string, Packed>;
  return Object.values(told)[0]!;
}

/** What package.json names as needed to run. */
export async function productionDependencies(): Promise<string[]> {
  const { dependencies } = JSON.parse(await readFile(join(ROOT, 'package.json'), 'utf8')) as {
    dependencies: Record<string, string>;
  };
  return Object.keys(dependencies);
}

/**
 * Puts a tarball where installing it would, in a folder otherwise empty, and beside it nothing but what the package
 * names as needed to run.
 *
 * @returns the installed package's folder
 */
export async function install(tarball: string, folder: string): Promise<string> {
  const modules = join(folder, 'node_modules');
  await mkdir(join(modules, 'combtone'), { recursive: true });
  await run('tar', ['-xzf', tarball, '-C', join(modules, 'combtone'), '--strip-components', '1']);
  for (const name of await productionDependencies()) {
    await mkdir(dirname(join(modules, name)), { recursive: true });
    await symlink(join(ROOT, 'node_modules', name), join(modules, name), 'junction');
  }
  return join(modules, 'combtone');
}
