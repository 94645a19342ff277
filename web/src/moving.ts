import type { Dance } from '../../src/study/study-schemas.ts';
import { goToDance, goToRun, readQueue, select } from './loading.ts';
import { isJudged, waitingAfter } from './rows.ts';
import { now, put, say } from './store.ts';

/** The sounds known to the page, by time. */
export function inOrder() {
  return [...now().sounds.values()].sort((a, b) => a.startS - b.startS || (a.id < b.id ? -1 : 1));
}

/** To the sound before or after the one in hand, or the cursor. */
export function stepTime(step: 1 | -1): void {
  put({ along: 'time' });
  const list = inOrder();
  const { selected, cursorS } = now();
  const at = list.findIndex(({ id }) => id === selected[0]);
  const after = list.findIndex(({ startS }) => startS > cursorS);
  const from = step > 0 ? (after < 0 ? list.length : after) : after < 0 ? list.length - 1 : after - 1;
  const next = list[at >= 0 ? at + step : from];
  if (next !== undefined) select(next.id, next);
}

/** To the next sound in the queue that waits for review, or back. */
export function stepQueue(step: 1 | -1): void {
  put({ along: 'queue' });
  const { queue, selected, queueAll } = now();
  const items = queue?.items ?? [];
  const at = items.findIndex(({ id }) => id === selected[0]);
  const waits = (status: string, id: string) =>
    queueAll || step < 0 || (status === 'found' && id !== selected[0]);
  for (let k = at + step; k >= 0 && k < items.length; k += step) {
    const item = items[k]!;
    if (!waits(item.status, item.id)) continue;
    select(item.id, item);
    return;
  }
  if (step > 0) say('note', 'That was the last of the queue.');
}

/** The dances known to the page, by time. */
export function dancesInOrder(): Dance[] {
  return [...now().dances.values()].sort((a, b) => a.startS - b.startS);
}

/**
 * From what has just been judged to what waits next on the reviewer's way: in a dance its next run, then the next
 * dance; in time the next sound; in the queue, and where the way is at its end, the next of the queue.
 *
 * @param saved comes when the verdict is on disk: only then can more of the queue be asked for
 */
export async function goOn(saved: Promise<unknown>): Promise<void> {
  const { along } = now();
  if (along === 'dance' && goOnInDance()) return;
  if (along === 'time' && goOnInTime()) return;
  if (goOnInQueue()) return;
  const left = now().selected;
  await saved;
  await readQueue();
  if (now().selected === left && !goOnInQueue()) say('note', 'Nothing else waits for review here.');
}

function goOnInDance(): boolean {
  const { dance, danceId, selected, sounds } = now();
  // The ladder hears of a verdict from the service; the lanes know it at once.
  const runs = (dance?.runs ?? []).map((run) => ({
    ...run,
    status: sounds.get(run.id)?.status ?? run.status,
  }));
  const run = waitingAfter(runs, selected);
  if (run !== undefined) {
    goToRun(run);
    return true;
  }
  const dances = dancesInOrder().map(({ id, runCount, reviewedRuns }) => ({
    id,
    status: reviewedRuns < runCount ? 'found' : 'reviewed',
  }));
  const next = danceId === null ? undefined : waitingAfter(dances, [danceId]);
  if (next !== undefined) void goToDance(next.id, (one) => !isJudged(one));
  return next !== undefined;
}

function goOnInTime(): boolean {
  const next = waitingAfter(inOrder(), now().selected);
  if (next !== undefined) select(next.id, next);
  return next !== undefined;
}

function goOnInQueue(): boolean {
  const { queue, queueAll, selected, sounds } = now();
  const items = (queue?.items ?? []).map((item) => ({
    ...item,
    status: sounds.get(item.id)?.status ?? item.status,
  }));
  const at = items.findIndex(({ id }) => id === selected[0]);
  // Who goes through all of them sees those judged before as well.
  const next = (queueAll && at >= 0 ? items[at + 1] : undefined) ?? waitingAfter(items, selected);
  if (next !== undefined) select(next.id, next);
  return next !== undefined;
}
