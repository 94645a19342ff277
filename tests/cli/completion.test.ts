import { execFile, execFileSync } from 'node:child_process';
import { writeFile } from 'node:fs/promises';
import { describe, expect, test } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.ts';
import { combtone, expectRefused, temporaryFolder } from './run-combtone.ts';

const inFolder = temporaryFolder();

/** Whether a shell is there to try a script with. */
function has(shell: string): boolean {
  try {
    execFileSync(shell, ['-c', 'exit 0'], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

/** What bash would offer for the last of some words. */
async function offered(script: string, ...words: string[]): Promise<string[]> {
  const line = ['combtone', ...words].map((word) => `'${word}'`).join(' ');
  const code = `source ${script}; COMP_WORDS=(${line}); COMP_CWORD=${words.length}; _combtone; printf '%s\\n' "\${COMPREPLY[@]}"`;
  const printed = await new Promise<string>((resolve, reject) => {
    execFile('bash', ['--norc', '-c', code], (error, stdout) =>
      error === null ? resolve(stdout) : reject(error),
    );
  });
  return printed.split('\n').filter((word) => word !== '');
}

describe('combtone completion', () => {
  test.skipIf(!has('bash'))('bash is offered commands, options and the values that are known', async () => {
    const { code, stdout, stderr } = await combtone('completion', 'bash');
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    const script = inFolder('combtone.bash');
    await writeFile(script, stdout);
    const offers = (...words: string[]) => offered(script, ...words);
    expect(await offers('')).toEqual(expect.arrayContaining([...Object.keys(COMMANDS), 'help']));
    expect(await offers('de')).toEqual(['demo', 'detect']);
    expect(await offers('help', 'est')).toEqual(['estimate']);
    expect(await offers('estimate', '--post')).toEqual(['--posteriors']);
    expect(await offers('calibrate', '--curve', 'b')).toEqual(['broken-line']);
    expect(await offers('study', '')).toEqual(expect.arrayContaining(['init', 'add', 'status', 'merge']));
    expect(await offers('study', 'init', '--lat')).toEqual(['--latitude']);
    expect(await offers('completion', '')).toEqual(expect.arrayContaining(['bash', 'zsh', 'fish']));
    // Files are for the shell to offer, and a share is for nobody.
    expect(await offers('detect', 'x')).toEqual([]);
    expect(await offers('estimate', '--level', '')).toEqual([]);
  });

  test.skipIf(!has('fish'))('fish is offered the same', async () => {
    const script = inFolder('combtone.fish');
    await writeFile(script, (await combtone('completion', 'fish')).stdout);
    const offers = (line: string) =>
      execFileSync('fish', ['--no-config', '-c', `source ${script}; complete -C '${line}'`], {
        encoding: 'utf8',
      })
        .split('\n')
        .flatMap((one) => one.split('\t')[0] || []);
    expect(offers('combtone de')).toEqual(['demo', 'detect']);
    expect(offers('combtone study ')).toEqual(expect.arrayContaining(['init', 'add', 'status', 'merge']));
    expect(offers('combtone study init --lat')).toEqual(['--latitude']);
    expect(offers('combtone calibrate --curve b')).toEqual(['broken-line']);
    expect(offers('combtone completion ')).toEqual(['bash', 'fish', 'zsh']);
  });

  test.each(['zsh', 'fish'])('the script for %s names every command', async (shell) => {
    const { code, stdout } = await combtone('completion', shell);
    expect(code).toBe(0);
    const commands = Object.keys(COMMANDS);
    expect(commands.filter((name) => !new RegExp(`\\b${name}\\b`).test(stdout))).toEqual([]);
    expect(stdout).toContain('posteriors');
  });

  // Every quote that is opened is closed, as the shell itself reads it.
  test.each(['bash', 'zsh', 'fish'].filter(has))('%s can read its script', async (shell) => {
    const script = inFolder(`read.${shell}`);
    await writeFile(script, (await combtone('completion', shell)).stdout);
    execFileSync(shell, ['-n', script], { stdio: 'pipe' });
  });

  test('refuses another shell, and none', async () => {
    expectRefused(await combtone('completion', 'csh'), /'csh' is invalid .* bash, zsh, fish/);
    expectRefused(await combtone('completion'), /missing required argument 'shell'/);
  });
});

describe('version and help', () => {
  test('--version --json tells version, build, node and platform', async () => {
    const { code, stdout } = await combtone('--version', '--json');
    expect(code).toBe(0);
    const told = JSON.parse(stdout) as Record<string, unknown>;
    expect(Object.keys(told)).toEqual(['version', 'build', 'node', 'platform']);
    expect(`${told.version}\n`).toBe((await combtone('--version')).stdout);
    expect(told.build === null || /^[0-9a-f]{40}(-dirty)?$/.test(String(told.build))).toBe(true);
    expect(told.node).toBe(process.versions.node);
    expect(told.platform).toBe(`${process.platform}-${process.arch}`);
    expect((await combtone('--json', '-V')).stdout).toBe(stdout);
  });

  test('help finds the command of a command', async () => {
    const asked = await combtone('help', 'study', 'add');
    expect(asked).toMatchObject({ code: 0, stderr: '' });
    expect(asked.stdout).toMatch(/^Usage: combtone study add /);
    expect(await combtone('study', 'add', '--help')).toEqual(asked);
    expect(await combtone('help')).toEqual(await combtone('--help'));
  });

  test.each([
    [['help', 'spin']],
    [['spin', '--help']],
    [['help', 'study', 'spin']],
    [['study', 'spin', '--help']],
  ])('%j is refused: help of another command is no help', async (words) => {
    expectRefused(await combtone(...words), /unknown command 'spin'/);
  });
});
