import { expect, test } from 'vitest';
import type { WindowSound } from '../../src/study/study-schemas.ts';
import { inRows, kindShare, namesBeside } from '../../web/src/lane-layout.ts';

const sound = (id: string, startS: number, endS: number) => ({ id, startS, endS }) as WindowSound;

const besideOf = (...sounds: WindowSound[]) =>
  Object.fromEntries(namesBeside(inRows(sounds, 0.01).placed, { fromS: 10, spanS: 10 }, 0.8));

test('the name of a short sound stands to its right where there is room', () => {
  expect(besideOf(sound('short', 12, 12.1), sound('long', 14, 15))).toEqual({
    short: { side: 'right', free: true },
  });
});

test('it stands to the left where the next sound or the window’s end is in the way', () => {
  expect(besideOf(sound('first', 12, 12.1), sound('second', 12.5, 12.6), sound('last', 19.7, 19.8))).toEqual({
    first: { side: 'left', free: true },
    second: { side: 'right', free: true },
    last: { side: 'left', free: true },
  });
});

test('where neither side is free it waits to be pointed at, on the side that is not cut off', () => {
  const crowd = besideOf(
    sound('first', 10.1, 10.2),
    sound('second', 10.5, 10.6),
    sound('third', 19.2, 19.3),
    sound('fourth', 19.6, 19.7),
    sound('fifth', 19.8, 19.9),
  );
  expect(crowd.first).toEqual({ side: 'right', free: false });
  expect(crowd.third).toEqual({ side: 'left', free: true });
  expect(crowd.fourth).toEqual({ side: 'left', free: false });
  expect(crowd.fifth).toEqual({ side: 'left', free: false });
});

test('a sound in another row is not in the way, a name already there is', () => {
  expect(besideOf(sound('long', 12, 15), sound('over', 12.2, 12.3), sound('next', 13.2, 13.3))).toEqual({
    over: { side: 'right', free: true },
    next: { side: 'right', free: true },
  });
  // The name of the one before reaches up to 12.9: from there to 13.5 is too little for another.
  const { last } = besideOf(sound('one', 12, 12.1), sound('last', 13.5, 13.6), sound('wall', 13.7, 15));
  expect(last).toEqual({ side: 'right', free: false });
});

test('on a narrow screen a name takes more of the window', () => {
  expect(kindShare(0)).toBe(0.08);
  expect(kindShare(850)).toBe(0.08);
  expect(kindShare(308) * 308).toBeGreaterThan(56);
});
