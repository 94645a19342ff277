import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { openRecording, writeWave } from '../../src/recording/index.ts';
import type { Queue, WindowSound } from '../../src/server/api.ts';
import { detectRecording } from '../../src/study/detect-recording.ts';
import { type Served, servedStudy, simulatedSound } from '../server/served-study.ts';
import { drawn, openPage, saved, startBrowser, until, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();
const LENGTH_S = 45;

async function samplesOf(path: string): Promise<Float32Array> {
  const recording = await openRecording(path);
  const samples = new Float32Array(recording.info.frameCount);
  let at = 0;
  for await (const block of recording.blocks(1)) {
    samples.set(block, at);
    at += block.length;
  }
  await recording.close();
  return samples;
}

/** Two microphones over two dance floors: each hears its own loudly and the other's more softly. */
async function twoFloors(folder: string): Promise<string> {
  const left = await samplesOf(await simulatedSound(folder, 'left', 8101, LENGTH_S));
  const right = await samplesOf(await simulatedSound(folder, 'right', 8102, LENGTH_S));
  const heard = (near: Float32Array, far: Float32Array) => near.map((value, k) => value + 0.5 * far[k]!);
  const path = join(folder, 'hive.wav');
  const channels = [heard(left, right), heard(right, left)];
  await writeWave(path, { sampleRateHz: 8000, encoding: 'pcm16', channels });
  return path;
}

describe.skipIf(reason !== null)(
  `a recording of two channels on the review page${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 20_000 },
  () => {
    let served: Served;
    let path = '';
    let browser: Browser;
    let page: Page;
    let troubles: string[];

    const soundsOf = async (channel: number): Promise<WindowSound[]> => {
      const answer = await served.get(`/api/recordings/1/window?from=0&to=${LENGTH_S}&channel=${channel}`);
      return ((await answer.json()) as { sounds: WindowSound[] }).sounds;
    };
    const barIds = () =>
      page.locator('.bar').evaluateAll((bars) => bars.map((bar) => bar.getAttribute('data-sound')!));

    beforeAll(async () => {
      served = await servedStudy({}, async (folder) => {
        path = await twoFloors(folder);
        return path;
      });
      browser = await startBrowser();
      ({ page, troubles } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    test('a run that both microphones hear is counted once', async () => {
      const [first, second] = [await soundsOf(1), await soundsOf(2)];
      const trains = (sounds: readonly WindowSound[]) => sounds.filter(({ kind }) => kind === 'train');
      expect(trains(first).length).toBeGreaterThan(5);
      expect(trains(second).length).toBeGreaterThan(5);
      // Each microphone by itself hears runs of the other's floor too.
      const alone = async (channel: number) =>
        (await detectRecording(path, { settings: DEFAULT_SETTINGS, channels: [channel] })).trains.length;
      const counted = trains(first).length + trains(second).length;
      expect((await alone(1)) + (await alone(2))).toBeGreaterThan(counted);
      const twice = trains(first).filter((one) =>
        trains(second).some((other) => {
          const sharedS = Math.min(one.endS, other.endS) - Math.max(one.startS, other.startS);
          const unionS = Math.max(one.endS, other.endS) - Math.min(one.startS, other.startS);
          return sharedS >= unionS / 2 && Math.abs(one.carrierHz! - other.carrierHz!) < 15;
        }),
      );
      expect(twice).toEqual([]);
      const words = await page.locator('.progress').innerText();
      expect(words).toContain(`0 of ${first.length + second.length} reviewed`);
    });

    test('the channel is chosen, and its picture and sounds are shown', async () => {
      const choice = page.locator('select[aria-label="Channel"]');
      expect(await choice.locator('option').allInnerTexts()).toEqual(['channel 1', 'channel 2']);
      const asked: string[] = [];
      page.on('request', (request) => asked.push(request.url()));
      for (const channel of [2, 1, 2]) {
        await choice.selectOption(String(channel));
        await page.waitForSelector('.bar');
        await drawn(page);
        const own = new Set((await soundsOf(channel)).map(({ id }) => id));
        await until(page, "document.querySelectorAll('.bar').length > 0");
        expect((await barIds()).filter((id) => !own.has(id))).toEqual([]);
      }
      const pictures = asked.filter((url) => url.includes('/spectrogram'));
      expect(pictures.some((url) => url.includes('channel=2'))).toBe(true);
      expect(asked.some((url) => url.includes('/ribbon') && url.includes('channel=2'))).toBe(true);
    });

    test('the queue holds the findings of both channels, and a card turns to its channel', async () => {
      const queue = (await (await served.get('/api/queue?recordingId=1')).json()) as Queue;
      expect(new Set(queue.items.map(({ channel }) => channel))).toEqual(new Set([1, 2]));
      for (const channel of [1, 2, 1]) {
        const { id } = queue.items.findLast((item) => item.channel === channel)!;
        const card = page.locator(`[data-card="${id}"] button`);
        expect(await card.textContent()).toContain(`ch ${channel}`);
        await card.click();
        await page.waitForSelector(`.bar.chosen[data-sound="${id}"]`);
        expect(await page.locator('select[aria-label="Channel"]').inputValue()).toBe(String(channel));
      }
    });

    test('judged on either channel, one fewer is left', async () => {
      const left = async () => Number.parseInt(await page.locator('.queue-count').innerText(), 10);
      const before = await left();
      for (const [k, channel] of [1, 2].entries()) {
        const sound = (await soundsOf(channel)).find(({ status }) => status === 'found')!;
        await page.locator(`[data-card="${sound.id}"] button`).click();
        await page.waitForSelector(`.bar.chosen[data-sound="${sound.id}"]`);
        await page.keyboard.press('y');
        await saved(page);
        await until(
          page,
          `document.querySelector('.queue-count').textContent.trim() === '${before - k - 1} left'`,
        );
      }
      expect(troubles).toEqual([]);
    });
  },
);
