import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Dance, WindowSound } from '../../src/server/api.ts';
import { type Served, servedStudy } from '../server/served-study.ts';
import { dragBy, openPage, saved, startBrowser, until, violations, whyNoBrowser } from './browser.ts';

const reason = whyNoBrowser();
if (reason !== null) console.warn(`The review page was not tried: ${reason}`);

const FEEDERS = ['reed', 'alder', 'sluice'];

describe.skipIf(reason !== null)(
  `the review page${reason === null ? '' : ` (not tried: ${reason})`}`,
  { timeout: 20_000 },
  () => {
    let served: Served;
    let browser: Browser;
    let page: Page;
    let troubles: string[];

    const sounds = async (): Promise<WindowSound[]> =>
      (
        (await (await served.get('/api/recordings/1/window?from=0&to=90')).json()) as {
          sounds: WindowSound[];
        }
      ).sounds;
    const soundNow = async (id: string) => (await sounds()).find((sound) => sound.id === id)!;
    const dances = async (): Promise<Dance[]> => (await served.get('/api/dances')).json() as Promise<Dance[]>;
    const estimate = () => page.locator('[data-estimate]').getAttribute('data-estimate');

    beforeAll(async () => {
      served = await servedStudy();
      await calibrated(served, await dances());
      browser = await startBrowser();
      ({ page, troubles } = await openPage(browser, served.url, 'rowan'));
    }, 60_000);
    afterAll(() => browser?.close());

    /** Puts the dance of most runs on the ladder, and takes one of its inner runs in hand. */
    const takeRun = async (on: Page, which: number): Promise<string> => {
      const longest = (await dances()).sort((a, b) => b.runCount - a.runCount)[0]!;
      await on.selectOption('select[aria-label="Dance"]', longest.id);
      await on.locator('.rung').nth(which).click();
      const bar = on.locator('.bar.chosen');
      await bar.waitFor();
      return (await bar.getAttribute('data-sound'))!;
    };

    test('shows a spectrogram that is a picture, with the sounds in lanes under it', async () => {
      const levels = await page.evaluate(`(() => {
      const canvas = document.querySelector('canvas.spectrogram');
      const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
      return new Set(new Uint32Array(data.buffer)).size;
    })()`);
      expect(levels).toBeGreaterThan(50);
      expect(await page.locator('.bar').count()).toBeGreaterThan(0);
      expect(new URL(page.url()).search).toBe('');
      expect(await page.locator('.progress').innerText()).toMatch(/^0 of \d+ reviewed/);
    });

    test('an end is corrected by dragging, and the estimate follows', async () => {
      const id = await takeRun(page, 1);
      const before = await soundNow(id);
      await page.locator('[data-estimate]').waitFor();
      const first = await estimate();
      await dragBy(page, '.bar.chosen .grip.last', 60);
      await saved(page);
      const after = await soundNow(id);
      expect(after.startS).toBe(before.startS);
      // 60 px of a window of 10 s, some 850 px wide.
      expect(after.endS - before.endS).toBeGreaterThan(0.5);
      expect(after.endS - before.endS).toBeLessThan(0.9);
      expect(after.status).toBe('accepted');
      await until(page, `document.querySelector('[data-estimate]')?.dataset.estimate !== '${first}'`);
    });

    test('a run is rejected, undone and done again', async () => {
      const id = await takeRun(page, 2);
      const count = (await dances()).sort((a, b) => b.runCount - a.runCount)[0]!.runCount;
      await page.click('.deeds button:has-text("Reject")');
      await saved(page);
      expect((await soundNow(id)).status).toBe('rejected');
      expect(Math.max(...(await dances()).map(({ runCount }) => runCount))).toBe(count - 1);
      await page.click('button:has-text("Undo")');
      await saved(page);
      expect((await soundNow(id)).status).toBe('found');
      await page.click('button:has-text("Redo")');
      await saved(page);
      expect((await soundNow(id)).status).toBe('rejected');
    });

    test('what was told of a deed goes at the next', async () => {
      await takeRun(page, 2);
      const told = () => page.locator('.notices').innerText();
      await page.click('button:has-text("Undo")');
      await saved(page);
      expect(await told()).toContain('Taken back.');
      await page.click('button:has-text("Redo")');
      await saved(page);
      expect(await told()).toMatch(/Done again\.(?!.*more)/s);
      await page.click('button:has-text("Undo")');
      await saved(page);
      await page.click('.deeds button:has-text("Reject")');
      await saved(page);
      expect(await told()).not.toMatch(/Taken back|more/);
    });

    test('what is left in the queue falls with every sound judged, and rises when that is taken back', async () => {
      const left = async () => Number.parseInt(await page.locator('.queue-count').innerText(), 10);
      const asked = async () => {
        const answer = await served.get('/api/queue?recordingId=1&limit=1');
        return ((await answer.json()) as { total: number }).total;
      };
      const falls = async (to: number) => {
        await saved(page);
        await until(page, `document.querySelector('.queue-count').textContent.trim() === '${to} left'`);
        expect(await asked()).toBe(to);
      };
      await page.locator('body').press('Escape');
      await page.locator('body').press('n');
      await page.waitForSelector('.bar.chosen');
      const before = await left();
      expect(before).toBe(await asked());
      await page.click('.deeds button:has-text("Accept")');
      await falls(before - 1);
      await page.click('.deeds button:has-text("Reject")');
      await falls(before - 2);
      await page.click('button:has-text("Undo")');
      await falls(before - 1);
      // Another reviewer's verdict counts as well.
      const waiting = (await sounds()).filter(({ status }) => status === 'found').at(-1)!;
      const targets = [{ id: waiting.id, version: waiting.version }];
      await served.post('/api/edits', { reviewer: 'sedge', edit: { kind: 'reject', targets } });
      await falls(before - 2);
      await page.selectOption('select[aria-label="What is in the queue"]', 'all');
      await until(page, "document.querySelector('.queue-count').textContent.includes('in all')");
      expect(await left()).toBe((await sounds()).length);
      await page.selectOption('select[aria-label="What is in the queue"]', 'unreviewed');
      await until(page, `document.querySelector('.queue-count').textContent.trim() === '${before - 2} left'`);
    });

    test('a missed run is added by dragging across the lane', async () => {
      await takeRun(page, 1);
      const known = new Set((await sounds()).map(({ id }) => id));
      const lane = (await page.locator('[data-lane=train]').boundingBox())!;
      const bars = await page.locator('[data-lane=train] .bar').evaluateAll((all) =>
        all.map((bar) => {
          const { left, right } = (
            bar as unknown as { getBoundingClientRect(): DOMBox }
          ).getBoundingClientRect();
          return [left, right] as const;
        }),
      );
      const free = freeStretch(bars, lane.x, lane.x + lane.width);
      await page.mouse.move(free + 10, lane.y + lane.height / 2);
      await page.mouse.down();
      await page.mouse.move(free + 40, lane.y + lane.height / 2, { steps: 4 });
      await page.mouse.up();
      await saved(page);
      const added = (await sounds()).filter(({ id }) => !known.has(id));
      expect(added).toHaveLength(1);
      expect(added[0]).toMatchObject({ kind: 'train', status: 'added' });
      expect(added[0]!.endS - added[0]!.startS).toBeCloseTo((30 / lane.width) * 10, 1);
      expect(await page.locator('.bar.chosen').getAttribute('data-sound')).toBe(added[0]!.id);
    });

    test('a dance is given a feeder, a bee and an angle, and a reload finds it all', async () => {
      const id = await takeRun(page, 1);
      const { danceId } = await soundNow(id);
      await page.selectOption('#feeder', 'sluice');
      await page.fill('#bee', 'B7');
      await page.press('#bee', 'Enter');
      // No angle is taken for another.
      await page.fill('#angle', '400');
      await page.press('#angle', 'Enter');
      await until(page, "document.querySelector('#angle').value === ''");
      expect(await page.textContent('.notices')).toMatch(/found "400"; wanted degrees clockwise/);
      await page.fill('#angle', '-30');
      await page.press('#angle', 'Enter');
      await saved(page);
      const { length: count } = await sounds();
      await page.reload();
      await page.waitForSelector('.bar');
      await page.selectOption('select[aria-label="Dance"]', danceId!);
      await until(page, "document.querySelector('#bee')?.value === 'B7'");
      expect(await page.inputValue('#feeder')).toBe('sluice');
      expect(await page.inputValue('#angle')).toBe('330');
      expect(await page.locator('.rung.rejected').count()).toBe(1);
      expect(await sounds()).toHaveLength(count);
      expect(await page.locator('.progress b').innerText()).not.toBe('0');
      expect(await page.locator('button:has-text("Undo")').isEnabled()).toBe(true);
    });

    test('sound is heard, plain and filtered, with the cursor moving', async () => {
      await page.click('.play');
      await page.waitForSelector('.mark.moving');
      const left = () =>
        page.locator('.mark.moving').evaluate((mark) => (mark as unknown as Styled).style.left);
      const early = await left();
      await until(page, `document.querySelector('.mark.moving')?.style.left !== '${early}'`);
      await page.keyboard.press('f');
      await page.keyboard.press('s');
      await page.waitForSelector('.mark.moving');
      expect(await page.locator('button[aria-pressed=true]:has-text("½")').count()).toBe(1);
      await page.locator('.play').press(' ');
      await page.waitForSelector('.mark.moving', { state: 'detached' });
    });

    test('by keyboard alone', async () => {
      await page.keyboard.press('Escape');
      await page.locator('body').press('PageDown');
      await page.waitForSelector('.bar.chosen');
      await page.keyboard.press('.');
      const id = (await page.locator('.bar.chosen').getAttribute('data-sound'))!;
      const before = await soundNow(id);
      await page.keyboard.press('t');
      await page.keyboard.press('t');
      await saved(page);
      expect((await soundNow(id)).endS).toBeCloseTo(before.endS + 0.01, 6);
      await page.keyboard.press('u');
      await saved(page);
      expect((await soundNow(id)).endS).toBeCloseTo(before.endS + 0.005, 6);
      await page.keyboard.press('k');
      await saved(page);
      expect((await soundNow(id)).kind).not.toBe(before.kind);
      await page.keyboard.press('Shift+U');
      await page.keyboard.press('u');
      await saved(page);
      expect((await soundNow(id)).kind).toBe(before.kind);
      await page.keyboard.press('?');
      await page.waitForSelector('dialog[open]');
      await page.keyboard.press('Escape');
      await page.waitForSelector('dialog[open]', { state: 'detached' });
    });

    test('two reviewers on one row: the second sees the first, and a lost race is told', async () => {
      const other = await openPage(browser, served.url, 'sedge');
      const id = await takeRun(other.page, 3);
      expect(await takeRun(page, 3)).toBe(id);
      await other.page.keyboard.press('x');
      await page.waitForSelector(`[data-sound="${id}"].rejected`, { timeout: 1500 });
      // A change that the page has not heard of yet: the service is told behind its back while its ear is shut.
      await page.route('**/api/edits', async (route) => {
        const { version } = await soundNow(id);
        const edit = { kind: 'sound-kind', soundKind: 'other', targets: [{ id, version }] };
        await served.post('/api/edits', { reviewer: 'sedge', edit });
        await route.continue();
      });
      await takeRun(page, 3);
      await page.keyboard.press('y');
      await page.waitForSelector('.notice.elsewhere');
      await page.unroute('**/api/edits');
      const now = await soundNow(id);
      expect(now).toMatchObject({ kind: 'other', status: 'accepted' });
      expect(await page.locator('.notice.elsewhere').innerText()).toContain('Changed by someone else');
      await page.waitForSelector(`[data-sound="${id}"].call`);
      await page.click('.notice.elsewhere button');
      expect(other.troubles).toEqual([]);
      await other.context.close();
    });

    test('a call too short for its name has it beside it, for eyes and ears, and in the legend', async () => {
      const { id, version } = (await sounds()).find(
        ({ kind, startS, endS, channel }) => kind === 'begging' && channel === 1 && endS - startS < 0.3,
      )!;
      const edit = { kind: 'sound-kind', soundKind: 'other', targets: [{ id, version }] };
      await served.post('/api/edits', { reviewer: 'sedge', edit });
      await page.selectOption('select[aria-label="What is in the queue"]', 'all');
      await page.selectOption('select[aria-label="Order of the queue"]', 'time');
      await page.locator(`[data-card="${id}"] button`).click();
      const bar = page.locator(`.bar.call[data-sound="${id}"]`);
      await bar.waitFor();
      expect(await bar.locator('button').getAttribute('aria-label')).toMatch(/^other, accepted, from /);
      await page.locator('body').press('Escape');
      await bar.locator('button').focus();
      expect(await bar.locator('.kind-beside').isVisible()).toBe(true);
      expect(await bar.locator('.kind-beside').innerText()).toBe('other');
      expect(await page.locator('.lane-legend').innerText()).toMatch(/other\s+[1-9]/);
      expect(await page.locator(`[data-card="${id}"] .kind`).innerText()).toBe('other');
    });

    test('nothing serious stands in the way of anyone, light or dark, and no request left the machine', async () => {
      const found: string[] = [];
      for (const [hash, scheme] of [
        ['#review', 'light'],
        ['#review', 'dark'],
        ['#calibration', 'light'],
      ] as const) {
        await page.emulateMedia({ colorScheme: scheme });
        await page.evaluate(`location.hash = '${hash}'`);
        await page.waitForSelector(hash === '#review' ? '.bar' : 'table, .resting');
        found.push(...(await violations(page)).map((words) => `${hash} ${scheme}: ${words}`));
      }
      expect(found).toEqual([]);
      expect(troubles).toEqual([]);
    });
  },
);

interface DOMBox {
  readonly left: number;
  readonly right: number;
}
interface Styled {
  readonly style: { readonly left: string };
}

/** Serious violations; the tool is put in by evaluation, since the page lets no script in. */
/** Left end of a stretch of at least 50 px without a bar. */
function freeStretch(bars: readonly (readonly [number, number])[], from: number, to: number): number {
  let at = from;
  for (const [left, right] of [...bars].sort((a, b) => a[0] - b[0])) {
    if (left - at > 60) return at;
    at = Math.max(at, right);
  }
  if (to - at > 60) return at;
  throw new Error('no free stretch in the lane');
}

/** Dances get feeders by their durations, and a calibration is saved of them. */
async function calibrated({ post }: Served, dances: readonly Dance[]): Promise<void> {
  const ordered = [...dances]
    .filter(({ runCount }) => runCount >= 2)
    .sort((a, b) => a.meanDurationS! - b.meanDurationS!);
  for (const [index, { id, version }] of ordered.entries()) {
    const feederId = FEEDERS[Math.min(2, Math.floor((3 * index) / ordered.length))];
    const changes = { feederId, beeId: `B${index % 3}` };
    const edit = { kind: 'dance', target: { id, version }, changes };
    expect((await post('/api/edits', { reviewer: 'sedge', edit })).status).toBe(200);
  }
  const danceIds = ordered.map(({ id }) => id);
  const saving = { danceIds, curve: 'line', reviewer: 'sedge', name: 'trial' };
  const answer = await post('/api/calibrations', saving);
  expect(answer.status, await answer.clone().text()).toBe(200);
}
