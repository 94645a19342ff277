import { describe, expect, test } from 'vitest';
import { registerCompare } from '../../../src/cli/compare.ts';
import { plotlySource } from '../../../src/study/figures/write-figures.ts';
import { shortCautions } from '../../../src/study/report/cautions.ts';
import { studyReport } from '../../../src/study/report/study-report.ts';
import { saveCalibration } from '../../../src/study/store/calibrations.ts';
import { danceById, stateNow } from '../../../src/study/store/state.ts';
import { calibrateDances } from '../../../src/study/study-calibration.ts';
import { type OpenStudy, openStudy, readPlaces, writeSettings } from '../../../src/study/study-folder.ts';
import { observationsOfStudy } from '../../../src/study/study-observations.ts';
import { studyView } from '../../../src/study/study-view.ts';
import { combtoneVersion } from '../../../src/study/version.ts';
import { runCommand } from '../../cli/run-command.ts';
import { edit, knownRecording, now, studyFolders } from '../made-study.ts';
import { sunnyStudy } from '../sunny-study.ts';

const newStudy = studyFolders();
const plotly = await plotlySource();

async function calibrated(name: string, curve = 'line'): Promise<OpenStudy> {
  const study = await sunnyStudy(await newStudy(name));
  const view = studyView(study, await readPlaces(study));
  const { observations } = observationsOfStudy(view, false);
  const record = calibrateDances(observations.dances, { curve, runs: 'inner' });
  const danceIds = observations.dances.map(({ danceId }) => danceId);
  saveCalibration(study.store, { name: 'june', reviewer: 'ada', danceIds, record });
  edit(study.store, {
    kind: 'reject',
    targets: [now(study.store, 'hive-c0001'), now(study.store, 'hive-t0001')],
  });
  edit(study.store, { kind: 'accept', targets: [now(study.store, 'hive-t0002')] });
  return study;
}

const reportOf = async (study: OpenStudy) =>
  studyReport(studyView(study, await readPlaces(study)), study.folder, 0.95);

/** The page without plotly.js, and how often that is in it. */
function split(page: string): { own: string; times: number } {
  const source = plotly.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--');
  const parts = page.split(source);
  return { own: parts.join(''), times: parts.length - 1 };
}

/** Cells of the rows of the table whose caption begins so. */
function rowsOf(page: string, caption: string): string[][] {
  const table = page.slice(page.indexOf(`<p class="caption">${caption}`)).split('</table>')[0]!;
  return [...table.matchAll(/<tr>(.*?)<\/tr>/g)].map(([, row]) =>
    [...row!.matchAll(/<t[dh][^>]*>(.*?)<\/t[dh]>/g)].map(([, cell]) => cell!),
  );
}

describe('a report', () => {
  test('holds all it needs, plotly.js once, and is the same to the byte each time', async () => {
    const study = await calibrated('whole');
    const page = await reportOf(study);
    expect(await reportOf(study)).toBe(page);
    const { own, times } = split(page);
    expect(own).toContain('Error of each feeder’s distance when told without its own dances');
    expect(own).not.toContain('No distance could be told without its own dances');
    expect(times).toBe(1);
    expect(own).not.toMatch(/(src|href)="(?!#)/);
    expect(own).not.toMatch(/https?:|url\(|@import/);
    for (const id of [
      'recordings',
      'calibration',
      'dances',
      'treatments',
      'map',
      'day',
      'methods',
      'cautions',
    ]) {
      expect(own).toContain(`<section id="${id}"`);
    }
    const places = [...own.matchAll(/<div id="(figure-\d+)"/g)].map(([, id]) => id);
    const drawn = JSON.parse(/of (\[\{"id".*\])\) \{/.exec(own)![1]!) as { id: string; name: string }[];
    expect(drawn.map(({ id }) => id)).toEqual(places);
    expect(drawn.map(({ name }) => name)).toEqual(
      expect.arrayContaining(['duration-curve', 'map', 'day-comb-angle']),
    );
  });

  test('says why no feeder was left out, and draws no empty figure of it', async () => {
    const page = await reportOf(await calibrated('saturated', 'power'));
    expect(page).toContain(
      'Run duration: No distance could be told without its own dances: the power curve has 3 parameters, and the dances are to 3 distances.',
    );
    expect(page).not.toContain('Error of each feeder’s distance when told without its own dances');
  });

  test('tells counts, versions, settings, calibration, estimates, bearings, map and cautions', async () => {
    const study = await calibrated('told');
    const { own } = split(await reportOf(study));
    const trains = [...stateNow(study.store).sounds.values()].filter(({ kind }) => kind === 'train').length;
    expect(rowsOf(own, 'Sounds by')).toEqual([
      ['sounds', 'found', 'accepted', 'rejected', 'added', 'reviewed'],
      ['waggle runs', String(trains - 2), '1', '1', '0', '1 %'],
      ['begging', '11', '0', '1', '0', '8 %'],
    ]);
    expect(own).toContain(
      `of ${trains} runs ${trains - 2} are as found, 1 were accepted, 1 rejected and 0 added`,
    );
    expect(own).toMatch(/calibration “june” \(saved \d{4}-\d\d-\d\d; data SHA-256 [0-9a-f]{12}, seed 1\)/);
    expect(own).toMatch(/a \+ b·d, a = 0\.\d+ ± \S+ s, b = 0\.00\d+ ± \S+ s\/m .*n = 18 dances/);
    expect(own).toContain(`This report was made by combtone ${combtoneVersion}.`);
    const unknown = rowsOf(own, 'Dances to places that are no feeder').slice(1);
    expect(unknown.length).toBe(6);
    for (const [, , , , , , distance, low, high, bearing, from, to] of unknown) {
      expect(Number(low)).toBeLessThan(Number(distance));
      expect(Number(high)).toBeGreaterThan(Number(distance));
      expect(Number(from)).toBeLessThan(Number(bearing));
      expect(Number(to)).toBeGreaterThan(Number(bearing));
      expect(Math.abs(Number(bearing) - 185)).toBeLessThan(12);
    }
    expect(rowsOf(own, 'Regions of the whole').map(([share]) => share)).toEqual([
      'share',
      '50 %',
      '80 %',
      '95 %',
    ]);
    for (const caution of shortCautions) expect(own).toContain(caution.slice(0, 40));
  });

  test('compares the treatments of a study by the numbers that compare prints', async () => {
    const study = await calibrated('loads');
    const fed = [...stateNow(study.store).dances.values()].filter(({ feederId }) => feederId !== null);
    for (const { id } of fed.filter((_, k) => k % 4 < 2)) {
      const target = { id, version: danceById(study.store, id)!.version };
      edit(study.store, { kind: 'dance', target, changes: { treatment: 'loaded' } });
    }
    const printed = (await runCommand(registerCompare, ['compare', '--study', study.folder])).split('\n');
    const { own } = split(await reportOf(study));
    expect(own).toContain('<h3>loaded against no treatment</h3>');
    const shifts = rowsOf(own, 'Run duration: 10 dances under it, 8 without').slice(1);
    const bees = rowsOf(own, 'The same, bee by bee.').slice(1);
    const feeders = rowsOf(own, 'The same, feeder by feeder').slice(1);
    expect([shifts.length, feeders.length]).toEqual([2, 3]);
    expect(bees.length).toBe(2);
    for (const row of [...shifts, ...feeders, ...bees]) {
      const inOrder = new RegExp(row.map((cell) => cell.trim().replaceAll(/[()+.]/g, '\\$&')).join('\\s+'));
      expect(printed.some((line) => inOrder.test(line))).toBe(true);
    }
    const test = printed.find((line) => line.startsWith('permutation test'))!;
    expect(own).toContain(test.slice(1));
  });

  test('names the treatment of dances, and leaves those of another than the curve’s off its map', async () => {
    const study = await calibrated('laden');
    const id = 'hive-d0004';
    const target = { id, version: danceById(study.store, id)!.version };
    edit(study.store, { kind: 'dance', target, changes: { treatment: 'loaded' } });
    const { own } = split(await reportOf(study));
    expect(own).toContain('<p>1 dance of treatment loaded was estimated by the curve of untreated bees: ');
    const unknown = rowsOf(own, 'Dances to places that are no feeder').slice(1);
    expect(unknown.map(([, , treatment]) => treatment)).toEqual(['loaded', '', '', '', '', '']);
    expect(own).toContain('1 not mapped: of treatment loaded, estimated by the curve of untreated bees');
  });

  test('of a study whose dances have no treatments says so in one line', async () => {
    const { own } = split(await reportOf(await calibrated('alike')));
    const words = own.slice(own.indexOf('<section id="treatments">')).split('</section>')[0]!;
    expect(words.match(/<p>.*<\/p>/g)).toEqual([
      '<p>No dance to a feeder has a treatment noted: there is nothing to compare.</p>',
    ]);
    expect(words).not.toContain('<table');
  });

  test('of a study with nothing calibrated says so, and what to do', async () => {
    const study = await sunnyStudy(await newStudy('plain'), { placed: false });
    const { own } = split(await reportOf(study));
    expect(own).toContain('Nothing is calibrated yet: dances have no distances.');
    expect(own).toContain('There is no map: study.json has no coordinates of the hive.');
    expect(own).toContain('No calibration was saved: no distance is given.');
  });

  test('of an empty study is a page without figures or plotly.js', async () => {
    const page = await reportOf(await newStudy('empty'));
    expect(split(page).times).toBe(0);
    expect(page).toContain('The study has no recordings yet.');
    expect(page).toContain('before anything was done in it');
  });

  test('shows text as text, whatever it is', async () => {
    const made = await newStudy('evil');
    knownRecording(made.store, { stem: '<img src=x onerror=alert(1)>' });
    await writeSettings(made.folder, { ...made.settings, name: '</title><script>alert("1")</script>' });
    const study = await openStudy(made.folder);
    const page = await reportOf(study);
    study.store.close();
    expect(page).not.toMatch(/<script>alert|<img/);
    expect(page).toContain('&lt;/title&gt;&lt;script&gt;alert(&quot;1&quot;)');
  });
});
