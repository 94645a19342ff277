import { beforeAll, describe, expect, test, vi } from 'vitest';
import { registerBearing } from '../../src/cli/bearing.ts';
import { registerCalibrate } from '../../src/cli/calibrate.ts';
import { registerDay } from '../../src/cli/day.ts';
import { registerMap } from '../../src/cli/map.ts';
import { studyFolders } from '../study/made-study.ts';
import { type Sunny, sunnyStudy } from '../study/sunny-study.ts';
import { refusalOf, runCommand } from './run-command.ts';

const newStudy = studyFolders();
const register = { bearing: registerBearing, map: registerMap };
const places = ['bearing', 'map'] as const;

async function studyAt(name: string, given: Sunny): Promise<string> {
  const study = await sunnyStudy(await newStudy(name), given);
  study.store.close();
  const args = ['calibrate', '--study', study.folder, '--curve', 'line', '--name', 'june'];
  await runCommand(registerCalibrate, args);
  return study.folder;
}

/** Lines that are said on stderr while something is done. */
async function saidDuring(act: () => Promise<unknown>): Promise<string[]> {
  const spy = vi.spyOn(process.stderr, 'write').mockReturnValue(true);
  try {
    await act();
    return spy.mock.calls.map(([text]) => String(text)).filter((text) => text.startsWith('combtone: '));
  } finally {
    spy.mockRestore();
  }
}

/** The words in which `combtone day` tells of clock and comb. */
const dayWords = async (folder: string): Promise<string[]> =>
  JSON.parse(await runCommand(registerDay, ['day', '--study', folder, '--json'])).clock.words;

describe('a clock that does not fit the sun', () => {
  let zone = '';
  let night = '';
  let good = '';
  beforeAll(async () => {
    zone = await studyAt('zone', { timeZone: 'America/New_York' });
    night = await studyAt('night', { startTime: '2031-06-14T15:30:00' });
    good = await studyAt('good', {});
  });

  test.each(places)('is told by %s once, in the words of day', async (name) => {
    const words = await dayWords(zone);
    expect(words.at(-1)).toMatch(/is the time zone right\?/);
    const said = await saidDuring(() => runCommand(register[name], [name, '--study', zone]));
    expect(said).toEqual([`combtone: warning: ${words.at(-1)}\n`]);
  });

  test.each(places)('and by %s of dances by night', async (name) => {
    const words = await dayWords(night);
    expect(words[0]).toMatch(/ of 24 dances fall when the sun is more than 6° below the horizon/);
    const said = await saidDuring(() => runCommand(register[name], [name, '--study', night]));
    expect(said.filter((line) => line === `combtone: warning: ${words[0]}\n`)).toHaveLength(1);
  });

  test.each(places)('goes with what %s prints as JSON, as in day’s', async (name) => {
    for (const folder of [zone, good]) {
      let printed = '';
      await saidDuring(async () => {
        printed = await runCommand(register[name], [name, '--study', folder, '--json']);
      });
      const day = JSON.parse(await runCommand(registerDay, ['day', '--study', folder, '--json']));
      expect(JSON.parse(printed).clock).toEqual(day.clock);
    }
  });

  test.each(places)('one that fits is no warning of %s', async (name) => {
    expect(await saidDuring(() => runCommand(register[name], [name, '--study', good]))).toEqual([]);
  });

  test.each(places)('is told before %s refuses a study all of whose dances fall by night', async (name) => {
    const dark = await studyAt(`dark ${name}`, { startTime: '2031-12-14T19:00:00' });
    const words = await dayWords(dark);
    const said = await saidDuring(() => refusalOf(register[name], [name, '--study', dark]));
    expect(said).toContain(`combtone: warning: ${words[0]}\n`);
  });
});
