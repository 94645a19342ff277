import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { eventByRequest } from '../../src/study/store/events.ts';
import { openStore } from '../../src/study/store/open-store.ts';
import { rebuildState, stateNow } from '../../src/study/store/state.ts';
import { initStudy, newSettings, openStudy } from '../../src/study/study-folder.ts';
import { detect, knownRecording, train } from '../study/made-study.ts';

/** More of them: COMBTONE_KILLS=50 npx vitest run --dir tests tests/server/kill */
const rounds = Number(process.env.COMBTONE_KILLS ?? 10);
// Most of a round is a process that starts.
vi.setConfig({ testTimeout: 15_000 * rounds, hookTimeout: 60_000 });

const MAIN = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

let parent = '';
let folder = '';
beforeAll(async () => {
  parent = await mkdtemp(join(tmpdir(), 'combtone-kill-'));
  folder = join(parent, 'study');
  await initStudy(folder, newSettings('kill'));
  const { store } = await openStudy(folder);
  const trains = Array.from({ length: 200 }, (_, k) => train(2 * k, 2 * k + 1, Math.floor(k / 10)));
  detect(store, knownRecording(store).id, trains);
  store.close();
});
afterAll(() => rm(parent, { recursive: true, force: true }));

/** The built command as it is run, and the address it prints. */
async function startReview(): Promise<{ child: ChildProcess; origin: string; token: string }> {
  const child = spawn(process.execPath, [MAIN, 'review', '--study', folder, '--no-open'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = once(child, 'exit').then(() => {
    throw new Error('the service ended before it printed its address');
  });
  const [line] = (await Promise.race([once(child.stdout!, 'data'), ended])) as [Buffer];
  // It will be killed.
  ended.catch(() => {});
  const url = new URL(line.toString().trim());
  return { child, origin: url.origin, token: url.searchParams.get('token')! };
}

test(`killed between edits ${rounds} times, the service loses nothing it acknowledged`, async () => {
  const random = seededRandom(3);
  const acknowledged: { requestId: string; id: string; status: string }[] = [];
  const versions = new Map<string, number>();
  let asked = 0;
  for (let round = 0; round < rounds; round++) {
    const { child, origin, token } = await startReview();
    let alive = true;
    const dying = once(child, 'exit').then(() => {
      alive = false;
    });
    // From the first edit on, at any moment: between two of them or amid one.
    let killing: Promise<unknown> = Promise.resolve();
    const inRound = acknowledged.length;
    while (alive) {
      const k = asked % 200;
      const id = `hive-t${String(k + 1).padStart(4, '0')}`;
      const kind = random.uniform() < 0.5 ? 'accept' : 'reject';
      const requestId = `request-${asked++}`;
      const edit = { kind, targets: [{ id, version: versions.get(id) ?? 1 }] };
      const answer = await fetch(`${origin}/api/edits`, {
        method: 'POST',
        headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
        body: JSON.stringify({ reviewer: 'ada', requestId, edit }),
      }).then(
        async (response) => ({ status: response.status, body: await response.json() }),
        () => null,
      );
      // Cut off: it may or may not have been done, and nobody was told that it was.
      if (answer === null) break;
      // An edit that was done though its answer was cut off has left a newer version.
      expect([200, 409]).toContain(answer.status);
      versions.set(id, answer.body.sounds[0].version);
      if (answer.status === 200) {
        acknowledged.push({ requestId, id, status: kind === 'accept' ? 'accepted' : 'rejected' });
      }
      if (acknowledged.length === inRound + 1) {
        killing = sleep(60 * random.uniform()).then(() => child.kill('SIGKILL'));
      }
    }
    await killing;
    await dying;
    check();
  }
  expect(acknowledged.length).toBeGreaterThan(rounds);

  function check(): void {
    const store = openStore(join(folder, 'study.sqlite'));
    expect(store.pragma('integrity_check', { simple: true })).toBe('ok');
    const lost = acknowledged.filter(({ requestId }) => eventByRequest(store, requestId) === null);
    expect(lost).toEqual([]);
    const rows = stateNow(store);
    rebuildState(store);
    expect(stateNow(store)).toEqual(rows);
    store.close();
  }
});
