import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Serving, serveStudy } from '../../src/server/server.ts';
import { recordFigures } from '../../src/study/figures/record-figures.ts';
import { figuresPage, plotlySource } from '../../src/study/figures/write-figures.ts';
import { studyReport } from '../../src/study/report/study-report.ts';
import { calibrationNamed, saveCalibration } from '../../src/study/store/calibrations.ts';
import { danceById, stateNow } from '../../src/study/store/state.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import {
  initStudy,
  newSettings,
  type OpenStudy,
  openStudy,
  readPlaces,
  writeSettings,
} from '../../src/study/study-folder.ts';
import { observationsOfStudy } from '../../src/study/study-observations.ts';
import { studyView } from '../../src/study/study-view.ts';
import { noteRequestsAway, startBrowser, until, whyNoBrowser } from '../browser/browser.ts';
import { edit } from '../study/made-study.ts';
import { sunnyStudy } from '../study/sunny-study.ts';

const reason = whyNoBrowser();

/** Names that would load, run or link if a page took them for HTML. */
const NAMES = {
  recording: '<img src="http://evil.example/r" onerror="window.taken=1">',
  study: '</title><script>window.taken=2</script>',
  bee: '<a href="http://evil.example/bee">bee</a>',
  feeder: '<b>&lt;reed</b><!--<script>',
  treatment: '"><svg onload="window.taken=3">',
  note: '</script><script>window.taken=4</script>',
  calibration: "<a href='javascript:window.taken=5'>june</a>",
  paint: '<style>*{display:none}</style>',
};

/** Anything that came of a name: elements that load, link or run, and whether a script ran. */
const TRACES = `[
  ...[...document.querySelectorAll('*')].filter((one) => one.getAttributeNames().some((name) =>
    /^on/.test(name) || /evil|javascript:/.test(/href|src/.test(name) ? one.getAttribute(name) : '')))
    .map((one) => one.outerHTML.slice(0, 200)),
  ...(window.taken === undefined ? [] : ['ran ' + window.taken]),
]`;

describe.skipIf(reason !== null)(
  `names that are HTML${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let parent = '';
    let study: OpenStudy;
    let serving: Serving;
    let browser: Browser;
    let page: Page;
    const troubles: string[] = [];
    const view = async () => studyView(study, await readPlaces(study));

    beforeAll(async () => {
      parent = await mkdtemp(join(tmpdir(), 'combtone-names-'));
      const folder = join(parent, 'study');
      await initStudy(folder, newSettings('names'));
      study = await sunnyStudy(await openStudy(folder));
      await writeSettings(folder, { ...study.settings, name: NAMES.study });
      study.store.close();
      study = await openStudy(folder);
      const quoted = (text: string) => `"${text.replaceAll('"', '""')}"`;
      await writeFile(
        join(folder, 'feeders.csv'),
        `feeder_id,distance_m,bearing_deg,paint_mark\n${quoted(NAMES.feeder)},200,100,${quoted(NAMES.paint)}\n` +
          'alder,500,220,white\nsluice,900,340,white\n',
      );
      for (const [id, { feederId, version }] of stateNow(study.store).dances) {
        const { bee: beeId, treatment, note, paint: paintMark } = NAMES;
        const feeder = feederId === 'reed' ? { feederId: NAMES.feeder } : {};
        edit(study.store, {
          kind: 'dance',
          target: { id, version },
          changes: { beeId: version % 2 === 0 ? beeId : 'blue-2', treatment, note, paintMark, ...feeder },
        });
      }
      study.store.prepare('UPDATE recordings SET path = ?').run(`${NAMES.recording}.wav`);
      expect(danceById(study.store, 'hive-d0001')!.feederId).toBe(NAMES.feeder);
      const { observations } = observationsOfStudy(await view(), true);
      const record = calibrateDances(observations.dances, { curve: 'line', runs: 'inner' });
      const danceIds = observations.dances.map(({ danceId }) => danceId);
      saveCalibration(study.store, { name: NAMES.calibration, reviewer: NAMES.bee, danceIds, record });
      serving = await serveStudy(study);
      browser = await startBrowser();
      const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
      page = await context.newPage();
      page.setDefaultTimeout(15_000);
      page.on('pageerror', (error) => troubles.push(error.message));
      page.on('dialog', (dialog) => troubles.push(dialog.message()));
      noteRequestsAway(page, troubles);
    }, 60_000);
    afterAll(async () => {
      await browser?.close();
      await serving?.close();
      study?.store.close();
      await rm(parent, { recursive: true, force: true });
    });

    test('are shown to the letter on the review page', async () => {
      await page.goto(serving.url);
      await page.waitForSelector('.bar');
      expect(await page.locator('.study-name').textContent()).toBe(NAMES.study);
      // A name with a slash is shown from there on.
      expect(await page.locator('select[aria-label="Recording"]').textContent()).toContain('onerror=');
      await page.selectOption('select[aria-label="Dance"]', 'hive-d0001');
      await until(page, "document.querySelector('#bee')?.value !== undefined");
      expect(await page.inputValue('#feeder')).toBe(NAMES.feeder);
      expect(await page.evaluate(TRACES)).toEqual([]);
    });

    test('are shown to the letter on the calibration page and the map, in figures too', async () => {
      for (const hash of ['calibration', 'map']) {
        await page.evaluate(`location.hash = '#${hash}'`);
        await page.waitForSelector('.figure-field:not(.stale) .plot-container');
        await page.waitForTimeout(300);
        const drawn = (await page.evaluate(
          "[...document.querySelectorAll('.plot-container text')].map((one) => one.textContent)",
        )) as string[];
        expect(drawn).toContain(hash === 'calibration' ? NAMES.bee : NAMES.feeder);
        expect(await page.evaluate(TRACES)).toEqual([]);
      }
      expect(troubles).toEqual([]);
    });

    test('are shown to the letter in the report and on a page of figures', async () => {
      const source = await plotlySource();
      const inPage = source.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--');
      const report = await studyReport(await view(), study.folder, 0.95);
      const figures = figuresPage(NAMES.study, recordFigures(calibrationNamed(study.store)!.record), source);
      for (const [name, html] of Object.entries({ report, figures })) {
        expect(html.split(inPage)).toHaveLength(2);
        // In place of plotly.js, which takes long to read: what it would be given.
        const given = 'window.Plotly = { newPlot: (_, data) => (window.given ??= []).push(...data) };';
        const path = join(parent, `${name}.html`);
        await writeFile(
          path,
          html.replace(inPage, () => given),
        );
        await page.goto(pathToFileURL(path).href);
        expect(await page.title(), name).toContain(NAMES.study);
        const data = (await page.evaluate('JSON.stringify(window.given)')) as string;
        expect(data).toContain('&lt;a href=');
        // Not one name that plotly.js would take for a tag.
        expect(data).not.toMatch(/<(?!br>)/);
        expect(await page.evaluate(TRACES)).toEqual([]);
      }
      await page.goto(pathToFileURL(join(parent, 'report.html')).href);
      const words = await page.evaluate('document.body.innerText');
      for (const name of ['study', 'bee', 'recording', 'feeder'] as const)
        expect(words).toContain(NAMES[name]);
      expect(troubles).toEqual([]);
    });
  },
);
