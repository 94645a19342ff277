import { expect, test } from 'vitest';
import { emptyQueueText } from '../../web/src/empty-queue.ts';

test('an empty queue tells of what waits in other recordings, and of the next step only when nothing does', () => {
  expect(emptyQueueText(false, 63)).toMatch(/63 sounds wait in others of the study/);
  expect(emptyQueueText(false, 1)).toMatch(/1 sound waits in others/);
  expect(emptyQueueText(false, 63)).not.toMatch(/calibration/);
  expect(emptyQueueText(false, 0)).toMatch(/calibration page/);
  expect(emptyQueueText(true, 63)).toBe('Nothing was heard in this recording.');
});
