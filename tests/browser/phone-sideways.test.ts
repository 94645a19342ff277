import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { servedStudy } from '../server/served-study.ts';
import { drawn, LONGEST_WAIT_MS, startBrowser, until, violations, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();
/** Pictures to be looked at; not kept in the repository. */
const PICTURES = fileURLToPath(new URL('../../.pictures/', import.meta.url));
const SCREEN = { width: 844, height: 390 };
/** WCAG 2.2, 2.5.5. */
const FINGERTIP_PX = 44;

/**
 * What can be pressed and is smaller than a fingertip, each with its size. As long as it lasts is a bar, and as the
 * page must share its width a slider or the list that gives way: of these the height alone is asked for.
 */
const tooSmall = `(() => {
  const seen = (element) => element.getBoundingClientRect().height > 0 && !element.closest('.unseen');
  const name = (element) => (element.getAttribute('aria-label') ?? element.textContent).trim().slice(0, 40);
  return [...document.querySelectorAll('button, select, input:not([type=checkbox]), nav a, label:has([type=checkbox])')]
    .filter((element) => seen(element))
    .map((element) => ({ element, ...element.getBoundingClientRect().toJSON() }))
    .filter(({ element, width, height }) =>
      height < ${FINGERTIP_PX} - 0.5 || (element.closest('.bar') === null && width < ${FINGERTIP_PX} - 0.5))
    .map(({ element, width, height }) => name(element) + ' ' + Math.round(width) + ' x ' + Math.round(height));
})()`;

describe.skipIf(reason !== null)(
  `the review page on a phone on its side${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 60_000 },
  () => {
    let browser: Browser;
    let page: Page;

    const box = async (selector: string) => (await page.locator(selector).first().boundingBox())!;

    beforeAll(async () => {
      mkdirSync(PICTURES, { recursive: true });
      const served = await servedStudy();
      browser = await startBrowser();
      const context = await browser.newContext({ viewport: SCREEN, hasTouch: true });
      page = await context.newPage();
      page.setDefaultTimeout(LONGEST_WAIT_MS);
      await page.goto(served.url);
      await drawn(page);
      await page.keyboard.press('PageDown');
      await page.locator('.bar.chosen').waitFor();
      await until(page, "document.querySelectorAll('.rung').length > 0");
    }, 60_000);
    afterAll(() => browser?.close());

    test('what is pressed is as large as a fingertip, and nothing reaches beyond the screen', async () => {
      expect(await page.evaluate(tooSmall)).toEqual([]);
      expect(await page.evaluate('document.scrollingElement.scrollWidth')).toBe(SCREEN.width);
    });

    test('the spectrogram is in sight at once', async () => {
      await page.evaluate('scrollTo(0, 0)');
      const { y, height } = await box('canvas.spectrogram');
      expect(Math.min(SCREEN.height, y + height) - y).toBeGreaterThan(120);
      expect(y).toBeLessThan(SCREEN.height / 2);
    });

    test('spectrogram, lanes and deeds are in sight together', async () => {
      await page.evaluate("document.querySelector('.stage').scrollIntoView({ block: 'start' })");
      const picture = await box('canvas.spectrogram');
      expect(picture.y).toBeGreaterThanOrEqual(0);
      expect(picture.height).toBeGreaterThan(120);
      for (const deed of await page.locator('.deeds button').all()) {
        const { y, height } = (await deed.boundingBox())!;
        expect(y).toBeGreaterThan(picture.y + picture.height);
        expect(y + height).toBeLessThanOrEqual(SCREEN.height);
      }
    });

    test('light and dark, without a serious fault', async () => {
      for (const scheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme: scheme });
        expect(await violations(page)).toEqual([]);
        for (const [part, at] of [
          ['top', '.top'],
          ['stage', '.stage'],
        ] as const) {
          await page.evaluate(`document.querySelector('${at}').scrollIntoView({ block: 'start' })`);
          await page.screenshot({ path: `${PICTURES}sideways-${part}-${scheme}.png` });
        }
      }
    });
  },
);
