import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { allRecordings } from '../../src/study/store/recordings.ts';
import { openStudy } from '../../src/study/study-folder.ts';
import { addRecording } from '../../src/study/study-recordings.ts';
import { type Served, servedStudy, soundWithoutStart } from '../server/served-study.ts';
import { openPage, startBrowser, until, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();

describe.skipIf(reason !== null)(
  `a page that is open when a start is corrected${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 30_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;
    let troubles: string[];

    beforeAll(async () => {
      served = await servedStudy({}, soundWithoutStart);
      await correctStart('2031-06-14T09:05:00');
      browser = await startBrowser();
      ({ page, troubles } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    /** As `combtone study add --start` in a terminal does, with a handle of its own. */
    async function correctStart(startTime: string): Promise<void> {
      const study = await openStudy(served.folder);
      await addRecording(study, join(served.folder, allRecordings(study.store)[0]!.path), startTime);
      study.store.close();
    }

    const clockIs = (clock: string) =>
      until(page, `document.querySelector('.ribbon canvas').ariaValueText.includes('clock time ${clock}')`);

    test('shows the corrected clock and says so, and the reviewer is where she was', async () => {
      await page.keyboard.press('PageDown');
      await page.locator('.bar.chosen').waitFor();
      await clockIs('09:0');
      const place = async () => ({
        inHand: await page.locator('.bar.chosen').getAttribute('data-sound'),
        dance: await page.locator('select[aria-label="Dance"]').inputValue(),
        fromS: await page.getAttribute('.ribbon canvas', 'aria-valuenow'),
        queue: await page.locator('.queue').innerText(),
      });
      const before = await place();
      await correctStart('2031-06-14T11:25:00');
      await clockIs('11:2');
      await page.getByText('hive.wav now begins at 2031-06-14 11:25:00').waitFor();
      expect(await place()).toEqual(before);
      expect(troubles).toEqual([]);
    });

    test('shows it on the calibration page too', async () => {
      const [dance] = (await (await served.get('/api/dances')).json()) as [{ id: string; version: number }];
      const target = { id: dance.id, version: dance.version };
      const edit = { kind: 'dance', target, changes: { feederId: 'reed' } };
      await served.post('/api/edits', { reviewer: 'sedge', edit });
      await page.click('nav a[href="#calibration"]');
      const table = page.locator('.serving');
      await table.getByText('06-14 11:2').waitFor();
      await correctStart('2031-06-14T13:45:00');
      await table.getByText('06-14 13:4').waitFor();
      expect(await table.getByText('06-14 11:2').count()).toBe(0);
      // No curve can be fitted to one dance, which the browser lists as an error.
      expect(troubles.filter((trouble) => !trouble.includes('422'))).toEqual([]);
    });
  },
);
