import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Dance } from '../../src/server/api.ts';
import { type Served, servedStudy } from '../server/served-study.ts';
import { drawn, startBrowser, violations, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();
/** Pictures to be looked at; not kept in the repository. */
const PICTURES = fileURLToPath(new URL('../../.pictures/', import.meta.url));
const LEAST_PX = 32;

/** What can be pressed on the page and is less high than a fingertip, each with its height. */
const tooLow = `(() => {
  const seen = (element) => element.getBoundingClientRect().height > 0 && !element.closest('.unseen');
  const name = (element) => (element.getAttribute('aria-label') ?? element.textContent).trim().slice(0, 40);
  const reaches = (element, x, y) => {
    const hit = document.elementFromPoint(x, y);
    return hit === element || (hit !== null && hit === element.closest('label'));
  };
  const heightOf = (element) => {
    const { left, right, top, bottom, height } = element.getBoundingClientRect();
    if (element.type !== 'checkbox') return height;
    // Round the box too it can be pressed.
    const [x, y] = [(left + right) / 2, (top + bottom) / 2];
    let high = 0;
    while (high < 40 && reaches(element, x, y - high / 2) && reaches(element, x, y + high / 2)) high++;
    return high - 1;
  };
  return [...document.querySelectorAll('button, select, input, nav a')]
    .filter((element) => seen(element))
    .filter((element) => {
      element.scrollIntoView({ block: 'center' });
      return heightOf(element) < ${LEAST_PX};
    })
    .map((element) => name(element) + ' ' + heightOf(element));
})()`;

/** Labels of the window that lie over each other, over another's bar, or beyond the edge. */
const overlapping = `(() => {
  const boxes = (selector) => [...document.querySelectorAll(selector)].map((element) => ({
    element, words: element.textContent, ...element.getBoundingClientRect().toJSON() }));
  const over = (a, b) =>
    a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;
  const names = boxes('.kind-beside').filter(({ width }) => width > 0);
  const times = boxes('.time-axis span');
  const bars = boxes('.bar');
  const axis = document.querySelector('.time-axis').getBoundingClientRect();
  return [
    ...times.flatMap((a, k) => times.slice(k + 1).filter((b) => over(a, b)).map((b) => a.words + ' over ' + b.words)),
    ...times.filter(({ right }) => right > axis.right).map(({ words }) => words + ' is cut'),
    ...names.flatMap((a, k) => names.slice(k + 1).filter((b) => over(a, b)).map((b) => a.words + ' over ' + b.words)),
    ...names.flatMap((a) =>
      bars.filter((bar) => bar.element !== a.element.parentElement && over(a, bar)).map(() => a.words + ' over a bar')),
  ];
})()`;

describe.skipIf(reason !== null)(
  `the page on a phone${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 60_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;

    beforeAll(async () => {
      mkdirSync(PICTURES, { recursive: true });
      served = await servedStudy();
      const dances = (await (await served.get('/api/dances')).json()) as Dance[];
      for (const [k, { id, version }] of dances.entries()) {
        const changes = { feederId: ['reed', 'alder', 'sluice'][k % 3], beeId: `bee-0${k % 4}` };
        const edit = { kind: 'dance', target: { id, version }, changes };
        await served.post('/api/edits', { reviewer: 'sedge', edit });
      }
      browser = await startBrowser();
      const context = await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true });
      page = await context.newPage();
      await page.goto(served.url);
      await drawn(page);
      await page.keyboard.press('PageDown');
      await page.locator('.rung').first().waitFor();
    }, 60_000);
    afterAll(() => browser?.close());

    const turnTo = async (name: string) => {
      await page.click(`nav a[href="#${name}"]`);
      if (name === 'calibration') await page.locator('.fit-words .parameters').waitFor();
      if (name === 'map') await page.locator('.map-empty').waitFor();
    };

    test.each(['review', 'calibration', 'map'])('%s is as wide as the screen', async (name) => {
      await turnTo(name);
      expect(await page.evaluate('document.scrollingElement.scrollWidth')).toBe(390);
      const tables =
        "[...document.querySelectorAll('.table')].filter((one) => one.scrollWidth > one.clientWidth).length";
      expect(await page.evaluate(tables)).toBe(0);
      for (const scheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme: scheme });
        expect(await violations(page)).toEqual([]);
        await page.screenshot({ path: `${PICTURES}phone-${name}-${scheme}.png` });
      }
    });

    test.each(['review', 'calibration', 'map'])(
      'what is pressed on %s is as high as a fingertip',
      async (name) => {
        await turnTo(name);
        expect(await page.evaluate(tooLow)).toEqual([]);
      },
    );

    test('labels of the window lie neither over each other nor over bars, wherever it is', async () => {
      await turnTo('review');
      await page.keyboard.press('Escape');
      await page.keyboard.press('Escape');
      for (let fromS = 0; fromS <= 80; fromS += 8) {
        const share = (fromS + 5) / 90;
        const box = (await page.locator('.ribbon canvas').boundingBox())!;
        await page.mouse.click(box.x + share * box.width, box.y + box.height / 2);
        await page.mouse.move(1, 1);
        await drawn(page);
        expect(await page.evaluate(overlapping), `from ${fromS} s`).toEqual([]);
      }
    });
  },
);
