import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { DancePart, WholeDanceRow } from '../../src/server/api.ts';
import { servedCutDance } from '../server/served-cut-dance.ts';
import type { Served } from '../server/served-study.ts';
import { openPage, saved, startBrowser, until, violations, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();

describe.skipIf(reason !== null)(
  `a dance that goes on in the next recording, on the review page${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let served: Served;
    let whole: WholeDanceRow;
    let first: DancePart;
    let second: DancePart;
    let browser: Browser;
    let page: Page;
    let troubles: string[];

    const list = 'select[aria-label="Dance"]';
    const across = async () => {
      const dances = (await (await served.get('/api/dances')).json()) as WholeDanceRow[];
      return dances.filter(({ parts }) => parts.length > 0);
    };
    /** Waits until the page shows a recording with a run of the dance in hand and the dance on the ladder. */
    const shows = async (part: DancePart) => {
      await until(page, `document.querySelector('${list}').value === '${part.id}'`);
      const recording = await page.locator('select[aria-label="Recording"]').inputValue();
      expect(recording).toBe(String(part.recordingId));
      await until(page, `document.querySelectorAll('.rung').length === ${whole.runCount}`);
      await page.locator('.bar.chosen.in-dance').waitFor();
    };

    beforeAll(async () => {
      served = await servedCutDance();
      [whole] = (await across()) as [WholeDanceRow];
      [first, second] = whole.parts as [DancePart, DancePart];
      browser = await startBrowser();
      ({ page, troubles } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    test('is one in the list, with its count, and says where it goes on', async () => {
      const option = page.locator(`${list} option[value="${first.id}"]`);
      await option.waitFor({ state: 'attached' });
      const words = await option.textContent();
      expect(words).toContain(`${whole.runCount} runs`);
      expect(words).toContain(`goes on in ${second.recording}`);
      expect(await page.locator(`${list} option[value="${second.id}"]`).count()).toBe(0);
    });

    test('has all its runs, its duration and its estimate on the ladder', async () => {
      await page.selectOption(list, first.id);
      await shows(first);
      expect(await page.locator('.seam').allInnerTexts()).toEqual([second.recording]);
      expect(await page.locator('.parts').innerText()).toContain(
        `${(whole.endS - whole.startS).toFixed(1)} s`,
      );
      expect(await page.locator('.figures').innerText()).toContain(`${whole.usedRuns} of ${whole.runCount}`);
      const answer = await (await served.get(`/api/dances/${second.id}/estimate`)).json();
      const { estimate } = answer as { estimate: { distance_m: number } };
      await page.locator(`[data-estimate="${Math.round(estimate.distance_m)}"]`).waitFor();
    });

    test('is followed into the next recording and back, by the button and by a rung', async () => {
      await page.getByRole('button', { name: `goes on in ${second.recording}` }).click();
      await shows(second);
      const words = await page.locator(`${list} option[value="${second.id}"]`).textContent();
      expect(words).toContain(`${whole.runCount} runs`);
      expect(words).toContain(`goes on from ${first.recording}`);
      await page.getByRole('button', { name: `goes on from ${first.recording}` }).click();
      await shows(first);
      await page.locator('.rung').last().click();
      await shows(second);
      await page.locator('.rung').first().click();
      await shows(first);
      expect(await violations(page)).toEqual([]);
    });

    test('a bee is noted of the whole dance from either part, and changed from the other', async () => {
      const bee = page.locator('#bee');
      for (const [part, name] of [
        [second, 'red-7'],
        [first, 'blue-2'],
      ] as const) {
        if (part === second) await page.locator('.rung').last().click();
        else await page.locator('.rung').first().click();
        await shows(part);
        await bee.fill(name);
        await bee.press('Enter');
        await until(page, `document.querySelector('${list} option:checked').textContent.includes('${name}')`);
        await saved(page);
        expect(await across()).toMatchObject([{ id: first.id, beeId: name }]);
      }
      expect(troubles).toEqual([]);
    });
  },
);
