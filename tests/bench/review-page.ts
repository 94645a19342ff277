/**
 * How quickly the review page shows what it is asked for, in the system's Chromium: a day's recording (24 h at
 * 44.1 kHz, two simulated minutes in each hour and holes between) with 20 000 trains, served by the built program in a process of its own.
 * Prints medians and worst beside what must be reached.
 *
 *   npm run bench:page -- [--hours 24]
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { rmSync } from 'node:fs';
import { mkdtemp, readdir, readFile, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { gzipSync } from 'node:zlib';
import type { Browser, Page } from 'playwright-core';
import { seededRandom } from '../../src/random.ts';
import { saveDetection } from '../../src/study/store/detections.ts';
import { insertRecording } from '../../src/study/store/recordings.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { textTable } from '../../src/study/text-table.ts';
import { startBrowser, whyNoBrowser } from '../browser/browser.ts';
import { dayOfTrains, dayRecording } from './day-study.ts';
import { type Frames, type Probe, pageProbe } from './page-probe.ts';

const { values } = parseArgs({ options: { hours: { type: 'string', default: '24' } } });
const hours = Number(values.hours);
const random = seededRandom(5);
const built = (path: string) => fileURLToPath(new URL(`../../../${path}`, import.meta.url));
const WIDTH = 'select[aria-label="Length of the window"]';
const rows: string[][] = [['measure', 'times', 'median', 'worst', 'to reach', '']];

const reason = whyNoBrowser(built('dist-web/index.html'));
if (reason !== null) throw new Error(reason);
const folder = await mkdtemp(join(tmpdir(), 'combtone-page-'));
let running: ChildProcess | null = null;
// A bench that is stopped by hand leaves neither eight gigabytes nor a service behind.
for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
  process.once(signal, () => {
    running?.kill('SIGKILL');
    rmSync(folder, { recursive: true, force: true });
    process.exit(1);
  });
}
try {
  await weigh(built('dist-web'));
  await makeStudy();
  const browser = await startBrowser();
  try {
    await measure(browser);
  } finally {
    await browser.close();
  }
} finally {
  await rm(folder, { recursive: true, force: true });
  // What was measured before a failure is worth printing.
  process.stdout.write(`${textTable(rows)}\n`);
}

async function makeStudy(): Promise<void> {
  process.stderr.write('making a day of sound\n');
  await initStudy(join(folder, 'study'), newSettings('day'));
  // Inside the study: a file elsewhere is opened only once its bytes agreed with the hash.
  const path = await dayRecording(join(folder, 'study'), hours, 60);
  const study = await openStudy(join(folder, 'study'));
  const { size, mtimeMs } = await stat(path);
  // As `combtone study add` would, but for the hash over 8 GB.
  insertRecording(study.store, {
    sha256: 'bench',
    path: 'day.wav',
    stem: 'day',
    byteCount: size,
    modifiedMs: mtimeMs,
    sampleRateHz: 44_100,
    channelCount: 1,
    durationS: 3600 * hours,
    startTime: '2031-06-14T00:00:00',
    warnings: [],
  });
  const sounds = dayOfTrains(hours, random);
  saveDetection(study.store, {
    recordingId: 1,
    settingsHash: 'bench',
    settings: {},
    combtoneVersion: 'bench',
    sounds,
  });
  study.store.close();
}

async function measure(browser: Browser): Promise<void> {
  const cold: number[] = [];
  for (let round = 0; round < 5; round++) cold.push(await served((url) => opened(browser, url)));
  tell('first spectrogram, service just started', cold, 1500);
  await served(async (url) => {
    const warm: number[] = [];
    for (let round = 0; round < 5; round++) warm.push(await opened(browser, url));
    tell('first spectrogram, opened again', warm, 1500);
    const page = await openAt(browser, url);
    await page.fill('#reviewer', 'bench');
    await page.press('#reviewer', 'Enter');
    await moves(page, '10 s');
    await page.selectOption(WIDTH, '60');
    await moves(page, '60 s');
    await page.selectOption(WIDTH, '10');
    await edits(page);
    await fluid(page);
    await page.context().close();
  });
}

/** Serves the study by the built program while something is done with it. */
async function served<T>(act: (url: string) => Promise<T>): Promise<T> {
  const args = [built('dist/cli/main.js'), 'review', '--study', join(folder, 'study'), '--no-open'];
  const service = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  running = service;
  const ended = once(service, 'exit');
  try {
    const begun = once(service.stdout, 'data');
    const early = ended.then(([code]) => Promise.reject(new Error(`the service ended at once: ${code}`)));
    early.catch(() => {});
    const [words] = (await Promise.race([begun, early])) as [Buffer];
    return await act(words.toString().trim());
  } finally {
    service.kill('SIGTERM');
    const slow = setTimeout(() => service.kill('SIGKILL'), 5000);
    await ended;
    clearTimeout(slow);
    running = null;
  }
}

/** A window of the browser that has seen nothing of the page before. */
async function openAt(browser: Browser, url: string): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
  await context.addInitScript(pageProbe);
  const page = await context.newPage();
  await page.goto(url);
  await page.waitForSelector('canvas.spectrogram[data-drawn]');
  return page;
}

/** From the address being asked for to the first spectrogram on the screen, ms. */
async function opened(browser: Browser, url: string): Promise<number> {
  const page = await openAt(browser, url);
  const took = await probe(page, (one) => one.firstDrawnMs());
  await page.context().close();
  return took;
}

/** Presses on the day ribbon: from the press to the spectrogram of that place on the screen. */
async function moves(page: Page, width: string): Promise<void> {
  const box = (await page.locator('.ribbon canvas').boundingBox())!;
  const took: number[] = [];
  for (let k = 0; k < 40; k++) {
    await page.waitForTimeout(150);
    await probe(page, (one) => one.watchDrawn('pointerdown'));
    await page.mouse.click(box.x + box.width * random.between(0.01, 0.99), box.y + box.height / 2);
    took.push(await probe(page, (one) => one.tookMs()));
  }
  tell(`to another place, ${width} window`, took, 150);
}

/** Rejects trains by key: from the key to the bar that shows it; and until the service has it on disk. */
async function edits(page: Page): Promise<void> {
  const seen: number[] = [];
  const kept: number[] = [];
  const box = (await page.locator('.ribbon canvas').boundingBox())!;
  for (let tries = 0; seen.length < 30 && tries < 90; tries++) {
    await page.mouse.click(box.x + box.width * random.between(0.05, 0.95), box.y + box.height / 2);
    await page.waitForTimeout(250);
    await page.keyboard.press('Escape');
    await page.keyboard.press('.');
    const id = await page.waitForSelector('.bar.chosen').then((bar) => bar.getAttribute('data-sound'));
    await page.waitForTimeout(150);
    // Rejecting one of the queue turns to the next of it, far from here; one that is rejected already shows nothing.
    const queued = await page.locator(`[data-card="${id}"]`).count();
    if (queued > 0 || (await page.locator('.bar.chosen.found').count()) === 0) continue;
    await probe(page, (one) => one.watchChanged('.bar.chosen', 'rejected'));
    const began = performance.now();
    const answered = page.waitForResponse((response) => response.url().endsWith('/api/edits'));
    await page.keyboard.press('x');
    seen.push(await probe(page, (one) => one.tookMs()));
    await answered;
    kept.push(performance.now() - began);
  }
  tell('an edit, to the screen', seen, 50);
  tell('an edit, acknowledged (on disk)', kept, null);
}

/** Frames while hands drag and scroll. */
async function fluid(page: Page): Promise<void> {
  const ribbon = (await page.locator('.ribbon canvas').boundingBox())!;
  await frames(page, 'dragging along the ribbon', async () => {
    await page.mouse.move(ribbon.x + 20, ribbon.y + ribbon.height / 2);
    await page.mouse.down();
    for (let k = 0; k <= 120; k++) {
      await page.mouse.move(ribbon.x + 20 + ((ribbon.width - 40) * k) / 120, ribbon.y + ribbon.height / 2);
      await page.waitForTimeout(16);
    }
    await page.mouse.up();
  });
  const picture = (await page.locator('canvas.spectrogram').boundingBox())!;
  await frames(page, 'wheeling through the sound', async () => {
    await page.mouse.move(picture.x + picture.width / 2, picture.y + picture.height / 2);
    for (let k = 0; k < 120; k++) {
      await page.mouse.wheel(0, 40);
      await page.waitForTimeout(16);
    }
  });
  await page.selectOption('select[aria-label="What is in the queue"]', 'all');
  await page.waitForTimeout(500);
  const shelf = (await page.locator('.queue ol').boundingBox())!;
  await frames(page, 'scrolling the queue', async () => {
    await page.mouse.move(shelf.x + shelf.width / 2, shelf.y + shelf.height / 2);
    for (let k = 0; k < 120; k++) {
      await page.mouse.wheel(k < 60 ? 120 : -120, 0);
      await page.waitForTimeout(16);
    }
  });
  await frames(page, 'stepping through the queue (n)', async () => {
    for (let k = 0; k < 40; k++) {
      await page.keyboard.press('n');
      await page.waitForTimeout(80);
    }
  });
}

async function frames(page: Page, what: string, act: () => Promise<void>): Promise<void> {
  await page.waitForTimeout(300);
  await probe(page, (one) => one.startFrames());
  await act();
  const { deltasMs, longestTaskMs }: Frames = await probe(page, (one) => one.endFrames());
  tell(`frames, ${what}`, deltasMs, null);
  tell(`longest task, ${what}`, [longestTaskMs], null);
}

/** Asks the probe in the page; from outside, since the page lets no text be run as script in it. */
function probe<T>(page: Page, ask: (probe: Probe) => T | Promise<T>): Promise<T> {
  return page.evaluate(`(${ask})(window.probe)`);
}

async function weigh(pageFolder: string): Promise<void> {
  const names = await readdir(pageFolder, { recursive: true, withFileTypes: true });
  let all = 0;
  let atOnce = 0;
  const html = await readFile(join(pageFolder, 'index.html'), 'utf8');
  for (const entry of names.filter((one) => one.isFile())) {
    const bytes = gzipSync(await readFile(join(entry.parentPath, entry.name))).length;
    all += bytes;
    if (entry.name === 'index.html' || html.includes(entry.name)) atOnce += bytes;
  }
  const megabytes = (bytes: number) => `${(bytes / 1e6).toFixed(3)} MB`;
  rows.push(['page, gzipped: what is loaded at once', '', megabytes(atOnce), '', '', '']);
  rows.push(['page, gzipped: all', '', megabytes(all), '', '2.5 MB', all < 2.5e6 ? 'held' : 'missed']);
}

function tell(what: string, tookMs: readonly number[], mostMs: number | null): void {
  const sorted = [...tookMs].sort((a, b) => a - b);
  const ms = (value: number) => `${value.toFixed(value < 100 ? 1 : 0)} ms`;
  const worst = sorted.at(-1) ?? Number.NaN;
  const held = mostMs === null ? '' : worst < mostMs ? 'held' : 'missed at worst';
  const median = sorted[sorted.length >> 1] ?? Number.NaN;
  const verdict = mostMs !== null && median >= mostMs ? 'missed' : held;
  rows.push([what, String(sorted.length), ms(median), ms(worst), mostMs === null ? '' : ms(mostMs), verdict]);
  process.stderr.write(`${what}: ${ms(median)}, worst ${ms(worst)} ${verdict}\n`);
}
