import { existsSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { installOnce } from '../jobs/system-package.ts';

/** Until a page has done what it was asked to: on a machine that runs all tests at once a moment may last long. */
export const LONGEST_WAIT_MS = 20_000;

const findChromium = () =>
  ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find(existsSync);
const INSTALL_LIMIT_S = 180;
if (findChromium() === undefined) await installOnce('chromium', INSTALL_LIMIT_S);
const CHROMIUM = findChromium();
const PAGE = fileURLToPath(new URL('../../dist-web/index.html', import.meta.url));

/** Why the page cannot be tried here, in words; null where it can. @param built the page's index.html */
export function whyNoBrowser(built = PAGE): string | null {
  if (CHROMIUM === undefined) {
    return 'no Chromium in /usr/bin: install the package chromium of the system to try the review page';
  }
  if (!existsSync(built)) return 'the review page has not been built: run npm run build:web';
  return null;
}

/** The system's Chromium, told to keep to itself. */
export function startBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: CHROMIUM!,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
}

export interface OpenPage {
  readonly page: Page;
  readonly context: BrowserContext;
  /** What went wrong in the page, and requests to anywhere but the service. */
  readonly troubles: string[];
}

/** A reviewer's window on the study, with the spectrogram drawn. */
export async function openPage(browser: Browser, url: string, reviewer: string): Promise<OpenPage> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
  const page = await context.newPage();
  page.setDefaultTimeout(LONGEST_WAIT_MS);
  const troubles: string[] = [];
  page.on('pageerror', (error) => troubles.push(error.message));
  page.on('console', (message) => {
    // A refused edit is an answer, though the browser lists it as an error.
    const expected = message.text().includes('409') || message.text().includes('404');
    if (message.type() === 'error' && !expected) troubles.push(message.text());
  });
  noteRequestsAway(page, troubles);
  await page.goto(url);
  await drawn(page);
  // Where nothing may be changed no name is asked for.
  if (await page.isEnabled('#reviewer')) {
    await page.fill('#reviewer', reviewer);
    await page.press('#reviewer', 'Enter');
  }
  return { page, context, troubles };
}

/** Counts as trouble whatever the page asks of another machine. */
export function noteRequestsAway(page: Page, troubles: string[]): void {
  page.on('request', (request) => {
    const { hostname, protocol } = new URL(request.url());
    if (protocol.startsWith('http') && hostname !== '127.0.0.1') troubles.push(`asked ${request.url()}`);
  });
}

export async function drawn(page: Page): Promise<void> {
  await page.waitForSelector('canvas.spectrogram[data-drawn]');
}

/**
 * Waits until an expression is true in the page. (The page's content security policy lets no text be run as script
 * in it, so it is asked from outside.)
 */
export async function until(page: Page, expression: string): Promise<void> {
  const end = Date.now() + LONGEST_WAIT_MS;
  while (!(await page.evaluate(expression))) {
    if (Date.now() > end) throw new Error(`never came true: ${expression}`);
    await page.waitForTimeout(25);
  }
}

/** Waits until every edit is on disk. */
export async function saved(page: Page): Promise<void> {
  await until(
    page,
    "document.querySelector('.saved').textContent === 'all saved' && document.querySelector('.notice.trouble') === null",
  );
}

/** Drags by mouse from the middle of an element. */
export async function dragBy(page: Page, selector: string, byX: number): Promise<void> {
  const box = (await page.locator(selector).boundingBox())!;
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + byX / 2, y, { steps: 3 });
  await page.mouse.move(x + byX, y, { steps: 3 });
  await page.mouse.up();
}

/** What axe-core finds serious or critical, each with the elements it is about. */
export async function violations(page: Page): Promise<string[]> {
  const axePath = createRequire(import.meta.url).resolve('axe-core/axe.min.js');
  await page.evaluate(readFileSync(axePath, 'utf8'));
  // A colour on its way from light to dark is none that anybody reads by.
  await until(page, "document.getAnimations().every(({ playState }) => playState !== 'running')");
  return page.evaluate(`axe.run(document, { resultTypes: ['violations'] }).then(({ violations }) =>
    violations.filter(({ impact }) => impact === 'serious' || impact === 'critical')
      .map(({ id, nodes }) => id + ' ' + nodes.slice(0, 3).map((node) => node.html.slice(0, 120)).join(' | ')))`);
}

/** Sizes at which pages are pictured: name, width and height in pixels. */
export const PICTURED_SIZES = [
  ['desk', 1280, 720],
  ['tablet', 820, 1180],
] as const;

/** The script that no page is made of until a figure is drawn: the figure library. */
export const LIBRARY_PARTS = /assets\/plotly-[^/]*\.js/;

/** What is waited for until it is opened. */
export function gate(): { readonly opened: Promise<void>; readonly open: () => void } {
  let open = () => {};
  const opened = new Promise<void>((resolve) => {
    open = resolve;
  });
  return { opened, open: () => open() };
}
