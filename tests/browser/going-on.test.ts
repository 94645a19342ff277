import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Dance, DanceInHand, WindowSound } from '../../src/server/api.ts';
import { type Served, servedStudy } from '../server/served-study.ts';
import { openPage, saved, startBrowser, until, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();

/** Verdicts by key, one after the other, each on another sound. */
describe.skipIf(reason !== null)(
  `going on after a verdict${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 20_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;

    const answer = async <T>(path: string) => (await (await served.get(path)).json()) as T;
    const statusOf = async (id: string) => {
      const { sounds } = await answer<{ sounds: WindowSound[] }>('/api/recordings/1/window?from=0&to=90');
      return sounds.find((sound) => sound.id === id)!.status;
    };
    const runsOf = async (danceId: string) =>
      (await answer<DanceInHand>(`/api/dances/${encodeURIComponent(danceId)}`)).runs.map(({ id }) => id);
    const press = (key: string) => page.locator('body').press(key);
    const inHand = (id: string) =>
      until(page, `document.querySelector('.bar.chosen')?.dataset.sound === ${JSON.stringify(id)}`);

    beforeAll(async () => {
      served = await servedStudy();
      browser = await startBrowser();
      ({ page } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    test('not before there is a name: its field has the keys then, and the queue says its order', async () => {
      const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
      const nameless = await context.newPage();
      await nameless.goto(served.url);
      await nameless.waitForSelector('.bar.chosen');
      const id = await nameless.locator('.bar.chosen').getAttribute('data-sound');
      await nameless.locator('body').press('y');
      await nameless.waitForSelector('#reviewer:focus');
      await nameless.keyboard.type('sedge');
      expect(await nameless.inputValue('#reviewer')).toBe('sedge');
      expect(await nameless.locator('.notices').textContent()).toContain('Give your name first');
      expect(await nameless.locator('.bar.chosen').getAttribute('data-sound')).toBe(id);
      expect(await statusOf(id!)).toBe('found');
      const order = nameless.locator('select[aria-label="Order of the queue"] option:checked');
      expect(await order.textContent()).toBe('most doubtful first');
      await context.close();
    });

    test('where four feeders were open a dance says so', async () => {
      const dances = await answer<Dance[]>('/api/dances');
      const feederConflict = ['reed', 'alder', 'sluice', 'willow'];
      const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
      const conflicting = await context.newPage();
      await conflicting.route('**/api/dances/*', async (route) => {
        const response = await route.fetch();
        const body = (await response.json()) as DanceInHand;
        await route.fulfill({ response, json: { ...body, dance: { ...body.dance, feederConflict } } });
      });
      await conflicting.goto(served.url);
      await conflicting.selectOption('select[aria-label="Dance"]', dances[0]!.id);
      await conflicting.waitForSelector('.warn:has-text("4 feeders were open: choose")');
      await context.close();
    });

    test('in a dance to its next run, and after its last to the next dance', async () => {
      const dances = (await answer<Dance[]>('/api/dances')).sort((a, b) => a.startS - b.startS);
      const at = dances.findIndex(({ runCount }, k) => k > 0 && runCount >= 2 && k + 1 < dances.length);
      const runs = await runsOf(dances[at]!.id);
      await page.selectOption('select[aria-label="Dance"]', dances[at - 1]!.id);
      await inHand((await runsOf(dances[at - 1]!.id))[0]!);
      await press('PageDown');
      for (const [k, id] of runs.entries()) {
        await inHand(id);
        await press(k === 0 ? 'y' : 'x');
      }
      const following = dances[at + 1]!.id;
      await inHand((await runsOf(following))[0]!);
      expect(await page.locator('select[aria-label="Dance"]').inputValue()).toBe(following);
      await saved(page);
      const verdicts = await Promise.all(runs.map(statusOf));
      expect(verdicts).toEqual(['accepted', ...runs.slice(1).map(() => 'rejected')]);
    });

    test('in time to the sound after', async () => {
      const { sounds } = await answer<{ sounds: WindowSound[] }>('/api/recordings/1/window?from=0&to=90');
      const waiting = sounds.filter(({ status }) => status === 'found').sort((a, b) => a.startS - b.startS);
      const at = waiting.findIndex((one, k) => k > 0 && waiting[k + 1]!.startS - one.startS < 10);
      const before = waiting[at]!;
      await page.locator(`[data-card="${before.id}"] button`).click();
      await inHand(before.id);
      await press('.');
      await press(',');
      await inHand(before.id);
      await press('y');
      await inHand(waiting[at + 1]!.id);
    });

    test('in the queue to its next, past the end to what was passed over, and at last it says so', async () => {
      expect(await page.locator('.card.found').count()).toBeGreaterThan(2);
      const waiting = page.locator('[data-card]:has(.card.found)');
      await waiting.last().locator('button').click();
      await inHand((await waiting.last().getAttribute('data-card'))!);
      await press('y');
      await inHand((await waiting.first().getAttribute('data-card'))!);
      for (let left = await page.locator('.card.found').count(); left > 0; left--) {
        const id = (await page.locator('.bar.chosen').getAttribute('data-sound'))!;
        await press('x');
        if (left > 1) await until(page, `document.querySelector('.bar.chosen')?.dataset.sound !== '${id}'`);
      }
      await page.waitForSelector('.notice:has-text("Nothing else waits for review here.")');
      await saved(page);
    });
  },
);
