import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Dance, WindowSound } from '../../src/server/api.ts';
import { type Served, servedStudy } from '../server/served-study.ts';
import {
  drawn,
  gate,
  LIBRARY_PARTS,
  openPage,
  PICTURED_SIZES,
  saved,
  startBrowser,
  until,
  violations,
  whyNoBrowser,
} from './browser.ts';

const reason = whyNoBrowser();
/** Pictures to be looked at; not kept in the repository. */
const PICTURES = fileURLToPath(new URL('../../.pictures/', import.meta.url));
const FEEDERS = ['reed', 'alder', 'sluice'];

describe.skipIf(reason !== null)(
  `more of the review page${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;
    let troubles: string[];

    const sounds = async (): Promise<WindowSound[]> => {
      const answer = await served.get('/api/recordings/1/window?from=0&to=90');
      return ((await answer.json()) as { sounds: WindowSound[] }).sounds;
    };
    const dances = async (): Promise<Dance[]> => (await served.get('/api/dances')).json() as Promise<Dance[]>;
    const longest = async () => (await dances()).sort((a, b) => b.runCount - a.runCount)[0]!;
    const soundNow = async (id: string) => (await sounds()).find((sound) => sound.id === id);
    const takeRun = async (which: number): Promise<string> => {
      await page.selectOption('select[aria-label="Dance"]', (await longest()).id);
      await page.locator('.rung').nth(which).click();
      await page.locator('.bar.chosen').waitFor();
      return (await page.locator('.bar.chosen').getAttribute('data-sound'))!;
    };

    beforeAll(async () => {
      mkdirSync(PICTURES, { recursive: true });
      served = await servedStudy();
      const ordered = (await dances())
        .filter(({ runCount }) => runCount >= 2)
        .sort((a, b) => a.meanDurationS! - b.meanDurationS!);
      for (const [index, { id, version }] of ordered.entries()) {
        const feederId = FEEDERS[Math.min(2, Math.floor((3 * index) / ordered.length))];
        const edit = {
          kind: 'dance',
          target: { id, version },
          changes: { feederId, beeId: `B${index % 3}` },
        };
        await served.post('/api/edits', { reviewer: 'sedge', edit });
      }
      browser = await startBrowser();
      ({ page, troubles } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    test('a run is split in two, and the parts are joined again', async () => {
      const id = await takeRun(1);
      const before = (await soundNow(id))!;
      const known = new Set((await sounds()).map((sound) => sound.id));
      await page.keyboard.press('v');
      await saved(page);
      const parts = (await sounds()).filter((sound) => sound.id === id || !known.has(sound.id));
      expect(parts).toHaveLength(2);
      const [first, second] = parts.sort((a, b) => a.startS - b.startS);
      expect(first!.startS).toBe(before.startS);
      expect(second!.endS).toBe(before.endS);
      expect(first!.endS).toBeLessThanOrEqual(second!.startS);
      await page.keyboard.press('Escape');
      await page.locator(`[data-sound="${id}"]`).click();
      await page.keyboard.press('j');
      await saved(page);
      expect(await soundNow(second!.id)).toBeUndefined();
      expect(await soundNow(id)).toMatchObject({ startS: before.startS, endS: before.endS });
    });

    test('a run goes out of its dance, into one of its own, and back', async () => {
      const id = await takeRun(1);
      const { danceId } = (await soundNow(id))!;
      await page.keyboard.press('o');
      await saved(page);
      expect((await soundNow(id))!.danceId).toBeNull();
      await page.keyboard.press('Shift+D');
      await saved(page);
      const own = (await soundNow(id))!.danceId;
      expect(own).not.toBeNull();
      expect(own).not.toBe(danceId);
      await page.keyboard.press('u');
      await saved(page);
      await page.keyboard.press('u');
      await saved(page);
      expect((await soundNow(id))!.danceId).toBe(danceId);
    });

    test('a dance that was found for two is divided: the runs of the second by Shift, then Shift+D', async () => {
      const { id, runCount } = await longest();
      await page.selectOption('select[aria-label="Dance"]', id);
      await until(page, `document.querySelectorAll('.rung').length === ${runCount}`);
      await page
        .locator('.rung')
        .nth(runCount - 2)
        .click();
      await page
        .locator('.rung')
        .nth(runCount - 1)
        .click({ modifiers: ['Shift'] });
      await page.keyboard.press('Shift+D');
      await saved(page);
      const first = (await dances()).find((one) => one.id === id)!;
      expect(first.runCount).toBe(runCount - 2);
      const after = (await dances()).filter(({ startS, channel }) => startS > first.startS && channel === 1);
      const second = after.sort((a, b) => a.startS - b.startS)[0]!;
      expect(second.runCount).toBe(2);
      expect(second.startS).toBeGreaterThan(first.endS);
      await page.keyboard.press('u');
      await saved(page);
      expect((await longest()).runCount).toBe(runCount);
    });

    test('a run is put into another dance that stands already', async () => {
      const id = await takeRun(1);
      const { danceId } = (await soundNow(id))!;
      const ordered = (await dances()).sort((a, b) => a.startS - b.startS);
      const at = ordered.findIndex((one) => one.id === danceId);
      const [key, other] =
        at + 1 < ordered.length ? ['Shift+PageDown', ordered[at + 1]!] : ['Shift+PageUp', ordered[at - 1]!];
      await page.keyboard.press(key);
      await until(page, `document.querySelector('select[aria-label="Dance"]').value === '${other.id}'`);
      // The run is still the one in hand.
      expect(await page.locator('.bar.chosen').getAttribute('data-sound')).toBe(id);
      await page.keyboard.press('d');
      await saved(page);
      expect((await soundNow(id))!.danceId).toBe(other.id);
      expect((await dances()).find((one) => one.id === other.id)!.runCount).toBe(other.runCount + 1);
      await until(page, `document.querySelectorAll('.rung').length === ${other.runCount + 1}`);
      await page.keyboard.press('u');
      await saved(page);
      expect((await soundNow(id))!.danceId).toBe(danceId);
    });

    test('notices cover nothing that hands reach for', async () => {
      await page.keyboard.press('Escape');
      await page.keyboard.press('Escape');
      await page.keyboard.press('y');
      await page.waitForSelector('.notice');
      const overlapping = `(() => {
        const foot = document.querySelector('.notices').getBoundingClientRect();
        return ['.top', '.ribbon', '.tools', '.stage', '.queue', '.right']
          .filter((part) => document.querySelector(part).getBoundingClientRect().bottom > foot.top + 0.5);
      })()`;
      expect(await page.evaluate(overlapping)).toEqual([]);
      expect(await page.evaluate("document.querySelector('.notices').getBoundingClientRect().bottom")).toBe(
        720,
      );
    });

    test.each([900, 1024])('at a width of %i px the deeds stand in one row, in sight', async (width) => {
      await page.setViewportSize({ width, height: 720 });
      const edges = (await page.evaluate(`(() => {
        scrollTo(0, 0);
        const seen = (button) => button.getBoundingClientRect().width > 0;
        return [...document.querySelectorAll('.deeds button')].filter(seen).map((button) => {
          const { top, bottom, left, right } = button.getBoundingClientRect();
          return { top, bottom, left, right, label: button.scrollWidth <= button.clientWidth };
        });
      })()`)) as { top: number; bottom: number; left: number; right: number; label: boolean }[];
      const foot = (await page.locator('.notices').boundingBox())!.y;
      await page.setViewportSize({ width: 1280, height: 720 });
      // Several is for fingers, which have no Shift.
      expect(edges.length).toBe(7);
      expect(new Set(edges.map(({ top }) => top)).size).toBe(1);
      for (const { bottom, left, right, label } of edges) {
        expect(bottom).toBeLessThan(foot);
        expect(left).toBeGreaterThan(0);
        expect(right).toBeLessThan(width);
        expect(label).toBe(true);
      }
    });

    test('the dial is turned by mouse and kept', async () => {
      await takeRun(1);
      const { id } = await longest();
      await page.locator('.dial').scrollIntoViewIfNeeded();
      const box = (await page.locator('.dial').boundingBox())!;
      await page.mouse.move(box.x + box.width / 2, box.y + 6);
      await page.mouse.down();
      await page.mouse.move(box.x + box.width - 6, box.y + box.height / 2, { steps: 4 });
      await page.mouse.up();
      await saved(page);
      expect((await dances()).find((dance) => dance.id === id)!.combAngleDeg).toBe(90);
      await page.screenshot({ path: `${PICTURES}review-light.png` });
    });

    test('a dance ticked out moves the curve; the calibration is saved under a name', async () => {
      const words = () => page.locator('.parameters').textContent();
      await page.evaluate("location.hash = '#calibration'");
      await page.selectOption('.serving .choices select', 'line');
      await page.waitForSelector('.figure-field:not(.stale)');
      await page.waitForSelector('.fit-words .quiet', { state: 'detached' });
      const before = await words();
      await page.locator('tbody input[type=checkbox]').first().click();
      const settled = "document.querySelector('.fit-words .quiet') === null";
      await until(
        page,
        `${settled} && document.querySelector('.parameters').textContent !== ${JSON.stringify(before)}`,
      );
      await page.locator('tbody input[type=checkbox]').first().click();
      await until(
        page,
        `${settled} && document.querySelector('.parameters').textContent === ${JSON.stringify(before)}`,
      );
      await page.fill('.saving input, form input', 'east comb');
      await page.press('.saving input, form input', 'Enter');
      await until(page, "document.body.innerText.includes('saved: east comb')");
      const list = (await (await served.get('/api/calibrations')).json()) as { name: string }[];
      expect(list.map(({ name }) => name)).toEqual(['east comb']);
    });

    test('the calibration page shows dances, choices and what was fitted before it has what draws the curve', async () => {
      const holds = { fit: gate(), library: gate() };
      await page.route('**/api/calibrations/preview', async (route) => {
        await holds.fit.opened;
        await route.continue();
      });
      await page.route(LIBRARY_PARTS, async (route) => {
        await holds.library.opened;
        await route.continue();
      });
      const asked = page.waitForRequest('**/api/calibrations/preview');
      const library = page.waitForRequest(LIBRARY_PARTS);
      await page.reload();
      await Promise.all([asked, library]);
      const waiting = page.locator('.fit [role=status]');
      expect(await page.locator('.serving tbody tr').count()).toBeGreaterThan(0);
      expect(await page.locator('.fit-words').innerText()).toMatch(/^Fitting the curve/);
      expect(await page.locator('.fit').getAttribute('aria-busy')).toBe('true');
      expect(await page.locator('.saving button').innerText()).toMatch(/^Save calibration of \d+ dances$/);
      holds.fit.open();
      await page.waitForSelector('.fit-words .parameters');
      expect(await waiting.innerText()).toBe('Drawing the curve …');
      expect(await violations(page)).toEqual([]);
      await page.screenshot({ path: `${PICTURES}calibration-waiting.png` });
      holds.library.open();
      await page.waitForSelector('.figure-field .plot-container');
      expect(await waiting.count()).toBe(0);
      await until(page, "document.querySelector('.fit').getAttribute('aria-busy') === 'false'");
      await page.unrouteAll({ behavior: 'wait' });
    });

    test('every page is pictured, light and dark, on a desk and on a tablet', async () => {
      for (const colorScheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme });
        for (const [size, width, height] of PICTURED_SIZES) {
          await page.setViewportSize({ width, height });
          for (const hash of ['review', 'calibration']) {
            await page.evaluate(`location.hash = '#${hash}'`);
            await page.waitForSelector(hash === 'review' ? '.bar' : '.figure-field .plot-container');
            if (hash === 'review') await drawn(page);
            await page.waitForTimeout(300);
            expect(
              await page.evaluate('document.documentElement.scrollWidth - innerWidth'),
            ).toBeLessThanOrEqual(0);
            await page.screenshot({ path: `${PICTURES}${hash}-${size}-${colorScheme}.png` });
          }
        }
      }
      expect(troubles).toEqual([]);
    });

    test('read only, nothing can be changed and it is said', async () => {
      const other = await served.again({ readOnly: true });
      const reading = await openPage(browser, other.url, 'sedge');
      expect(await reading.page.locator('.tag').textContent()).toBe('reading only');
      const before = await sounds();
      await reading.page.selectOption('select[aria-label="Dance"]', (await longest()).id);
      await reading.page.waitForSelector('.details');
      await reading.page.waitForSelector('.bar.chosen');
      const open = await reading.page.evaluate(`[...document.querySelectorAll(
        '.deeds button, .pair button, .details input, .details select, #reviewer')]
        .filter((one) => !one.matches(':disabled')).map((one) => one.outerHTML.slice(0, 80))`);
      expect(open).toEqual([]);
      expect(await reading.page.locator('.grip').count()).toBe(0);
      await reading.page.keyboard.press('.');
      await reading.page.keyboard.press('x');
      await reading.page.waitForSelector('.notice');
      await reading.page.screenshot({ path: `${PICTURES}reading-only.png` });
      expect(await sounds()).toEqual(before);
      await reading.context.close();
    });
  },
);
