import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Dance, DanceInHand } from '../../src/server/api.ts';
import { type Served, servedStudy } from '../server/served-study.ts';
import { drawn, LONGEST_WAIT_MS, saved, startBrowser, until, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();

describe.skipIf(reason !== null)(
  `a dance is divided by touch${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;

    const dances = async () => (await (await served.get('/api/dances')).json()) as Dance[];
    const longest = async () => (await dances()).sort((a, b) => b.runCount - a.runCount)[0]!;
    const deed = (name: string) => page.locator('.deeds button', { hasText: name });
    const rung = (which: number) => page.locator('.rung').nth(which);
    const chosen = () => page.locator('.rung[aria-pressed=true]').count();
    /** Puts the dance of most runs on the ladder, its first run in hand. */
    const takeLongest = async () => {
      const one = await longest();
      await page.selectOption('select[aria-label="Dance"]', '');
      await page.selectOption('select[aria-label="Dance"]', one.id);
      await until(page, `document.querySelectorAll('.rung').length === ${one.runCount}`);
      await until(page, "document.querySelectorAll('.rung[aria-pressed=true]').length === 1");
      return one;
    };

    beforeAll(async () => {
      served = await servedStudy();
      browser = await startBrowser();
      const context = await browser.newContext({ viewport: { width: 820, height: 1180 }, hasTouch: true });
      page = await context.newPage();
      page.setDefaultTimeout(LONGEST_WAIT_MS);
      await page.goto(served.url);
      await drawn(page);
      await page.fill('#reviewer', 'rowan');
      await page.press('#reviewer', 'Enter');
    }, 60_000);
    afterAll(() => browser?.close());

    test('by its last two runs, and is whole again when that is taken back', async () => {
      const { id, runCount } = await takeLongest();
      await rung(runCount - 2).tap();
      await deed('Several').tap();
      await rung(runCount - 1).tap();
      expect(await chosen()).toBe(2);
      await deed('Own dance').tap();
      await saved(page);
      const listed = await dances();
      const first = listed.find((one) => one.id === id)!;
      expect(first.runCount).toBe(runCount - 2);
      const second = listed
        .filter(({ startS, channel }) => startS > first.endS && channel === first.channel)
        .sort((a, b) => a.startS - b.startS)[0]!;
      expect(second.runCount).toBe(2);
      // The next tap takes one alone in hand again.
      expect(await deed('Several').getAttribute('aria-pressed')).toBe('false');
      await page.locator('button:has-text("Undo")').tap();
      await saved(page);
      expect(await longest()).toMatchObject({ id, runCount });
    });

    test('a run goes into another dance: it and a run of that in hand, by cards of the queue', async () => {
      const { id, runCount } = await takeLongest();
      const other = (await dances()).find((one) => one.id !== id && one.runCount > 1)!;
      await page.selectOption('select[aria-label="What is in the queue"]', 'all');
      await page.selectOption('select[aria-label="Order of the queue"]', 'time');
      const { runs } = (await (await served.get(`/api/dances/${other.id}`)).json()) as DanceInHand;
      await rung(0).tap();
      await deed('Several').tap();
      await page.locator(`[data-card="${runs[0]!.id}"] button`).tap();
      await until(page, `document.querySelector('select[aria-label="Dance"]').value === '${other.id}'`);
      await until(page, `document.querySelectorAll('.rung').length === ${runs.length}`);
      await deed('To dance').tap();
      await saved(page);
      const counts = new Map((await dances()).map((one) => [one.id, one.runCount]));
      expect(counts.get(id)).toBe(runCount - 1);
      expect(counts.get(other.id)).toBe(other.runCount + 1);
      await page.locator('button:has-text("Undo")').tap();
      await saved(page);
      expect(await longest()).toMatchObject({ id, runCount });
    });

    test('a second tap lets a run go, on the ladder and in the lane', async () => {
      await takeLongest();
      await deed('Several').tap();
      await rung(1).tap();
      expect(await chosen()).toBe(2);
      await rung(1).tap();
      expect(await chosen()).toBe(1);
      await page.locator('.bar.chosen button').tap();
      expect(await chosen()).toBe(0);
      await deed('Several').tap();
    });

    test('not where there is nothing to divide: nothing in hand, a call, all runs of a dance', async () => {
      const { runCount } = await takeLongest();
      expect(await deed('Own dance').isEnabled()).toBe(true);
      await page.locator('body').press('Escape');
      expect(await deed('Own dance').isEnabled()).toBe(false);
      await page.locator('.card:has(.kind.call)').first().tap();
      await page.locator('.bar.call.chosen').waitFor();
      expect(await deed('Own dance').isEnabled()).toBe(false);
      await takeLongest();
      await deed('Several').tap();
      for (let k = 1; k < runCount; k++) await rung(k).tap();
      expect(await chosen()).toBe(runCount);
      expect(await deed('Own dance').isEnabled()).toBe(false);
      await rung(0).tap();
      expect(await deed('Own dance').isEnabled()).toBe(true);
    });
  },
);
