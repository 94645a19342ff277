import { expect, test } from 'vitest';
import { waitingAfter } from '../../web/src/rows.ts';

const list = ['found', 'accepted', 'found', 'added', 'found'].map((status, k) => ({ id: `${k}`, status }));

test('what waits next comes after what is in hand, and round the end before it', () => {
  expect(waitingAfter(list, ['0'])?.id).toBe('2');
  expect(waitingAfter(list, ['2'])?.id).toBe('4');
  expect(waitingAfter(list, ['4'])?.id).toBe('0');
  expect(waitingAfter(list, ['elsewhere'])?.id).toBe('0');
});

test('what is in hand waits no more, and there may be nothing left', () => {
  expect(waitingAfter(list, ['2', '4'])?.id).toBe('0');
  expect(waitingAfter(list, ['4', '0', '2'])).toBeUndefined();
});
