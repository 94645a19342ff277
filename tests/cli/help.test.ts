import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.ts';
import { combtone, expectRefused, type Ran } from './run-combtone.ts';

const help = await combtone('--help');
const commands = [...help.stdout.split('To begin:')[1]!.matchAll(/^ {2}([a-z-]+)/gm)]
  .map(([, name]) => name!)
  .filter((name) => name !== 'help');

/** Each command's help is asked for once, by whichever test wants it first. */
const asked = new Map<string, Promise<Ran>>();
function helpOf(command: string): Promise<Ran> {
  const answer = asked.get(command) ?? combtone(command, '--help');
  asked.set(command, answer);
  return answer;
}

describe.concurrent('combtone', () => {
  test('--help names the commands and exits with 0; so does no word at all', async () => {
    expect(help).toMatchObject({ code: 0, stderr: '' });
    expect(commands).toEqual(
      expect.arrayContaining(['simulate', 'detect', 'calibrate', 'estimate', 'agree']),
    );
    expect(commands).toEqual(Object.keys(COMMANDS));
    expect(await combtone()).toEqual(help);
  });

  test('help lists commands in the order of the work, under headings, and no line is wider than a terminal', async () => {
    const headings = [...help.stdout.matchAll(/^([A-Z][a-z ]+):$/gm)].map(([, heading]) => heading);
    expect(headings).toEqual([
      'Options',
      'To begin',
      'From recordings to waggle runs',
      'From durations to distances',
      'From comb angles to places',
      'To publish',
      'Beside these',
    ]);
    const study = await helpOf('study');
    for (const line of (help.stdout + study.stdout.split('Example:')[0]).split('\n')) {
      expect(line.length).toBeLessThanOrEqual(80);
    }
  });

  test.each(commands)('%s --help carries a worked example', async (command) => {
    const { code, stdout, stderr } = await helpOf(command);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(new RegExp(`Example[\\s\\S]*\\$ combtone ${command}`));
  });

  test.each(Object.entries(COMMANDS))(
    '%s says of itself what help says of it',
    async (command, { summary }) => {
      const { stdout } = await helpOf(command);
      expect(stdout.replaceAll(/\s+/g, ' ')).toContain(summary);
      expect(await combtone('help', command)).toMatchObject({ code: 0, stdout });
    },
  );

  test('--version is that of the package', async () => {
    const { code, stdout } = await combtone('--version');
    expect(code).toBe(0);
    expect(stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });

  test.each([
    [['spin'], /unknown command 'spin'/],
    [['toString'], /unknown command 'toString'/],
    [['--nonsense'], /unknown option '--nonsense'/],
    [['detect'], /recordings: found none; wanted sound files, or --study with a study/],
    [['detect', '--ot', 'x'], /unknown option '--ot' \(Did you mean --out\?\)$/m],
    [['dtect'], /unknown command 'dtect' \(Did you mean detect\?\)$/m],
    [['detect', 'x.wav', '--nonsense'], /unknown option '--nonsense'/],
    [['agree', '--found', 'x.csv'], /required option '--reference <file>' not specified/],
    [['simulate'], /required option '--out <folder>' not specified/],
  ])('refuses %j in one line', async (args, wanted) => {
    expectRefused(await combtone(...args), wanted);
  });

  test('--debug adds the stack to the line, and changes nothing else', async () => {
    const { code, stderr } = await combtone('detect', 'nowhere.wav', '--debug');
    expect(code).toBe(2);
    expect(stderr).toMatch(/^combtone: nowhere\.wav: found no such file[^\n]*\n[\s\S]*\bat /);
  });

  test('a reader that closes the pipe early is no failure', async () => {
    const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
    const child = spawn(process.execPath, [main, 'detect', '--help'], { stdio: ['ignore', 'pipe', 'pipe'] });
    child.stdout.destroy();
    let stderr = '';
    child.stderr.on('data', (text) => {
      stderr += text;
    });
    const code = await new Promise((resolve) => child.on('close', resolve));
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  });
});
