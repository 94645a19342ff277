import { mkdirSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { mapSchema, type StudyMapView } from '../../src/server/api.ts';
import { type Serving, serveStudy } from '../../src/server/server.ts';
import { saveCalibration } from '../../src/study/store/calibrations.ts';
import { calibrateDances } from '../../src/study/study-calibration.ts';
import {
  initStudy,
  newSettings,
  type OpenStudy,
  openStudy,
  readPlaces,
} from '../../src/study/study-folder.ts';
import { observationsOfStudy } from '../../src/study/study-observations.ts';
import { studyView } from '../../src/study/study-view.ts';
import { site, sunnyStudy } from '../study/sunny-study.ts';
import {
  gate,
  LIBRARY_PARTS,
  LONGEST_WAIT_MS,
  noteRequestsAway,
  PICTURED_SIZES,
  startBrowser,
  until,
  violations,
  whyNoBrowser,
} from './browser.ts';

const reason = whyNoBrowser();
/** Pictures to be looked at; not kept in the repository. */
const PICTURES = fileURLToPath(new URL('../../.pictures/', import.meta.url));
const READY = '.map-field .figure-field:not(.stale) .plot-container';

/** What of the plane is seen, as words. */
const RANGE = "document.querySelector('.map-field .figure-field').layout.xaxis.range.join()";
/** Names on the map that lie over a mark or another name. Round a name there is some room in which no letter stands. */
const NAMES_OVER = `(() => {
  const boxes = (selector) => [...document.querySelectorAll('.map-field ' + selector)].map((element) => ({
    words: element.textContent, ...element.getBoundingClientRect().toJSON() }));
  const over = (a, b) =>
    a.left < b.right - 2 && b.left < a.right - 2 && a.top < b.bottom - 3 && b.top < a.bottom - 3;
  const names = boxes('.textpoint');
  const marks = boxes('.scatterlayer .point');
  return names.flatMap((name, k) => [
    ...names.slice(k + 1).filter((other) => over(name, other)).map(({ words }) => name.words + ' over ' + words),
    ...marks.filter((mark) => over(name, mark)).map(() => name.words + ' over a mark'),
  ]);
})()`;

/** A made-up stream and a hedge, some hundred metres from the hive. */
const backdrop = {
  type: 'FeatureCollection',
  features: [
    {
      type: 'Feature',
      properties: {},
      geometry: {
        type: 'LineString',
        coordinates: [-4, -2, 0, 2, 4].map((k) => [
          site.longitudeDeg + 0.002 * k,
          site.latitudeDeg - 0.004 + 0.0004 * k,
        ]),
      },
    },
    {
      type: 'Feature',
      properties: {},
      geometry: {
        type: 'Polygon',
        coordinates: [
          [
            [site.longitudeDeg + 0.003, site.latitudeDeg + 0.001],
            [site.longitudeDeg + 0.007, site.latitudeDeg + 0.001],
            [site.longitudeDeg + 0.007, site.latitudeDeg + 0.004],
            [site.longitudeDeg + 0.003, site.latitudeDeg + 0.001],
          ],
        ],
      },
    },
  ],
};

describe.skipIf(reason !== null)(
  `the map page${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let parent: string;
    let study: OpenStudy;
    let serving: Serving;
    let browser: Browser;
    let page: Page;
    const troubles: string[] = [];

    const ask = (path: string) =>
      fetch(`http://127.0.0.1:${serving.port}${path}`, {
        headers: { authorization: `Bearer ${serving.token}` },
      });
    const map = async (query = ''): Promise<StudyMapView> => {
      const answer = await ask(`/api/map${query}`);
      expect(answer.status).toBe(200);
      return mapSchema.parse(await answer.json());
    };
    const calibrate = async () => {
      const { observations } = observationsOfStudy(studyView(study, await readPlaces(study)), false);
      const record = calibrateDances(observations.dances, { curve: 'line', runs: 'inner' });
      const danceIds = observations.dances.map(({ danceId }) => danceId);
      saveCalibration(study.store, { name: 'june', reviewer: 'rowan', danceIds, record });
    };
    beforeAll(async () => {
      mkdirSync(PICTURES, { recursive: true });
      parent = await mkdtemp(join(tmpdir(), 'combtone-map-'));
      const folder = join(parent, 'study');
      await initStudy(folder, newSettings('east comb'));
      study = await sunnyStudy(await openStudy(folder));
      serving = await serveStudy(study);
      browser = await startBrowser();
      const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
      page = await context.newPage();
      page.setDefaultTimeout(LONGEST_WAIT_MS);
      page.on('pageerror', (error) => troubles.push(error.message));
      page.on('console', (message) => {
        const refused = message.text().startsWith('Failed to load');
        if (message.type() === 'error' && !refused) troubles.push(message.text());
      });
      // There is no sound file behind this study: its spectrograms alone are refused.
      page.on('response', (response) => {
        if (response.status() >= 400 && !response.url().includes('/spectrogram'))
          troubles.push(response.url());
      });
      noteRequestsAway(page, troubles);
      await page.goto(`${serving.url}#map`);
    }, 60_000);
    afterAll(async () => {
      await browser?.close();
      await serving?.close();
      study?.store.close();
      await rm(parent, { recursive: true, force: true });
    });

    test('before anything is calibrated it says what is wanting', async () => {
      expect((await map()).why).toBe('nothing is calibrated yet');
      await page.waitForSelector('.map-empty');
      const words = (await page.locator('.map-empty').innerText()).replaceAll(/\s+/g, ' ');
      expect(words).toContain('No map yet');
      expect(words).toContain('wanting: a saved calibration');
      expect(words).toContain('there: the hive’s latitude');
      await page.waitForSelector(READY);
      expect(await violations(page)).toEqual([]);
      await page.screenshot({ path: `${PICTURES}map-empty.png` });
    });

    test('regions, dances, feeders and hive are drawn where the service puts them', async () => {
      await calibrate();
      const whole = await map();
      expect(whole.why).toBeNull();
      expect(whole.dances.length + whole.leftOut.length).toBe(6);
      expect(whole.dances.length).toBeGreaterThan(3);
      expect(whole.regions.map(({ level }) => level)).toEqual([0.5, 0.8, 0.95]);
      const [half, most, nearly] = whole.regions.map(({ areaHa }) => areaHa);
      expect(half).toBeLessThan(most!);
      expect(most).toBeLessThan(nearly!);
      // The dances tell of places to the south, a little west: 185 degrees.
      for (const { northM, distanceM, eastM } of whole.dances) {
        expect(northM).toBeLessThan(0);
        expect(Math.hypot(eastM, northM)).toBeCloseTo(distanceM, 0);
      }
      expect(whole.feeders.find(({ feederId }) => feederId === 'reed')!.eastM).toBeCloseTo(197, 0);
      await page.reload();
      await page.waitForSelector(READY);
      const shown = (await page.evaluate(`document.querySelector('.map-field .figure-field').data
        .map(({ name, x }) => [name, x.length])`)) as [string, number][];
      expect(shown.map(([name]) => name)).toEqual(['95 %', '80 %', '50 %', 'dances', 'feeders', 'hive']);
      expect(Object.fromEntries(shown)).toMatchObject({ dances: whole.dances.length, feeders: 3, hive: 1 });
      expect(await page.locator('.map tbody tr').count()).toBe(whole.dances.length);
      const layout = "document.querySelector('.map-field .figure-field')._fullLayout";
      const perM = (await page.evaluate(
        `[${layout}.xaxis._length / (${layout}.xaxis.range[1] - ${layout}.xaxis.range[0]),
          ${layout}.yaxis._length / (${layout}.yaxis.range[1] - ${layout}.yaxis.range[0])]`,
      )) as [number, number];
      // A metre east is as long as a metre north, and north is up.
      expect(perM[0]).toBeCloseTo(perM[1], 6);
      expect(perM[1]).toBeGreaterThan(0);
    });

    test('says what it waits for, and asks for the map without waiting for what draws it', async () => {
      const holds = { map: gate(), library: gate() };
      let libraryParts = 0;
      await page.route('**/api/map?*', async (route) => {
        await holds.map.opened;
        await route.continue();
      });
      await page.route(LIBRARY_PARTS, async (route) => {
        libraryParts++;
        await holds.library.opened;
        await route.continue();
      });
      const asked = page.waitForRequest('**/api/map?*');
      await page.reload();
      await asked;
      const waiting = page.locator('.fit [role=status]');
      expect(await waiting.innerText()).toMatch(/^Estimating every dance for the map/);
      holds.map.open();
      await page.waitForSelector('.map tbody tr');
      expect(await waiting.innerText()).toBe('Drawing the map …');
      expect(libraryParts).toBeGreaterThan(0);
      holds.library.open();
      await page.waitForSelector(READY);
      // It may be asked for anew once more, when all of the study is read.
      await until(page, "document.querySelector('.fit [role=status]').textContent === ''");
      await page.unrouteAll({ behavior: 'wait' });
    });

    test('is filtered by bee and by day', async () => {
      const whole = await map();
      const one = await map('?bee=blue-2');
      const days = await map('?day=2031-06-15');
      expect(whole.choices).toEqual({ days: ['2031-06-14'], beeIds: ['blue-2'], treatments: [] });
      expect(one.dances).toEqual(whole.dances);
      expect(days).toMatchObject({ dances: [], regions: [] });
      expect((await ask('/api/map?day=noon')).status).toBe(400);
      await page.selectOption('.map .choices select >> nth=1', 'blue-2');
      await page.waitForSelector(READY);
      await page.selectOption('.map .choices select >> nth=3', 'runs');
      await until(page, "document.querySelector('.map-summary').innerText.includes('used runs')");
      await page.selectOption('.map .choices select >> nth=1', '');
      await page.selectOption('.map .choices select >> nth=3', 'dances');
    });

    test('takes a backdrop of the user’s own, and says what is wrong with one', async () => {
      const chooser = page.locator('.backdrop input');
      const put = (name: string, content: string) =>
        chooser.setInputFiles({ name, mimeType: 'application/geo+json', buffer: Buffer.from(content) });
      await put('bad.geojson', JSON.stringify({ type: 'Point', coordinates: [9, 91] }));
      await until(page, "document.querySelector('.backdrop .warn')?.innerText.includes('[9,91]')");
      await put('land.geojson', JSON.stringify(backdrop));
      await until(
        page,
        "document.querySelector('.map-field .figure-field').data.some(({ name }) => name === 'land.geojson')",
      );
      expect(await page.locator('.backdrop .warn').count()).toBe(0);
      const line = (await page.evaluate(
        "document.querySelector('.map-field .figure-field').data[0].x.map((x, k, all) => x)",
      )) as (number | null)[];
      // Five places of the stream, a gap, four of the field; the stream's middle lies due south.
      expect(line).toHaveLength(10);
      expect(line[2]).toBeCloseTo(0, 3);
      expect(line[5]).toBeNull();
    });

    test('names are placed anew with every step, clear of marks and of each other; a tap tells one too', async () => {
      const context = await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true });
      const phone = await context.newPage();
      phone.setDefaultTimeout(LONGEST_WAIT_MS);
      await phone.goto(`${serving.url}#map`);
      await phone.waitForSelector(READY);
      await phone.waitForSelector('.map-field .textpoint');
      const names: string[][] = [];
      for (const step of [
        'Whole',
        'Wider',
        'Wider',
        'Wider',
        'Wider',
        'Whole',
        'Closer',
        'Closer',
        'Closer',
      ]) {
        const shown = (await phone.evaluate(RANGE)) as string;
        await phone.click(`.map-steps button:has-text("${step}")`);
        if (step !== 'Whole') await until(phone, `${RANGE} !== ${JSON.stringify(shown)}`);
        await phone.waitForTimeout(400);
        expect(await phone.evaluate(NAMES_OVER), `${step} ${names.length}`).toEqual([]);
        names.push((await phone.locator('.map-field .textpoint').allTextContents()).sort());
      }
      expect(names[0]).toEqual(['alder', 'hive', 'reed', 'sluice']);
      expect(names[5]).toEqual(names[0]);
      const [feeder] = (await map()).feeders;
      await phone.click('.map-steps button:has-text("Whole")');
      await phone.waitForTimeout(400);
      // Dances, feeders, hive.
      const spots = phone.locator('.map-field .scatterlayer .trace', { has: phone.locator('.point') });
      const mark = spots.nth(1).locator('.point').first();
      await mark.scrollIntoViewIfNeeded();
      const box = (await mark.boundingBox())!;
      await phone.touchscreen.tap(box.x + box.width / 2, box.y + box.height / 2);
      const told = phone.locator('.map-field .hoverlayer .hovertext');
      await told.waitFor();
      expect(await told.textContent()).toBe(feeder!.feederId);
      for (let k = 0; k < 9; k++) await phone.click('.map-steps button:has-text("Wider")');
      await phone.waitForTimeout(600);
      expect(await phone.evaluate(NAMES_OVER)).toEqual([]);
      await context.close();
    });

    test('is worked by keyboard alone', async () => {
      const shown = "document.querySelector('.map-field .figure-field').layout.xaxis.range";
      await page.locator('.map-keys').focus();
      await page.keyboard.press('0');
      await page.waitForTimeout(1000);
      const [west, east] = (await page.evaluate(shown)) as [number, number];
      // The figure is drawn anew some time after the key.
      await page.keyboard.press('ArrowRight');
      await until(page, `${shown}[0] > ${west}`);
      await page.keyboard.press('+');
      await until(page, `${shown}[1] - ${shown}[0] < ${0.75 * (east - west)}`);
      await page.keyboard.press('0');
      await page.keyboard.press('p');
      await until(page, "location.hash === '#review'");
      await page.keyboard.press('p');
      await page.waitForSelector(READY);
    });

    test('light and dark, on a desk and on a tablet, without a serious fault', async () => {
      await page.locator('.backdrop input').setInputFiles({
        name: 'land.geojson',
        mimeType: 'application/geo+json',
        buffer: Buffer.from(JSON.stringify(backdrop)),
      });
      for (const colorScheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme });
        for (const [size, width, height] of PICTURED_SIZES) {
          await page.setViewportSize({ width, height });
          await page.waitForTimeout(300);
          expect(
            await page.evaluate('document.documentElement.scrollWidth - innerWidth'),
          ).toBeLessThanOrEqual(0);
          await page.screenshot({ path: `${PICTURES}map-${size}-${colorScheme}.png` });
        }
        expect(await violations(page)).toEqual([]);
      }
      expect(troubles).toEqual([]);
    });
  },
);
