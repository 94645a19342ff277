import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type Box,
  boxAround,
  labelBox,
  labelSides,
  type Named,
  SIDES,
} from '../../web/src/map/label-places.ts';

const frame: Box = { left: 0, right: 400, top: 0, bottom: 400 };
const place = (x: number, y: number, widthPx = 40): Named => ({ x, y, markPx: 5, widthPx });
const marksOf = (places: readonly Named[]) => places.map(({ x, y, markPx }) => boxAround(x, y, markPx + 1));
const sidesOf = (places: readonly Named[], others: readonly Box[] = [], taken: readonly Box[] = []) =>
  labelSides(places, [...marksOf(places), ...others], taken, frame);

const over = (one: Box, other: Box) =>
  one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
const labelsOf = (places: readonly Named[], sides: readonly (Named['usual'] | null)[]) =>
  places.flatMap((one, k) => (sides[k] == null ? [] : [labelBox(one, sides[k])]));

test('names of places far from each other stand above their marks, or where theirs usually stands', () => {
  expect(sidesOf([place(100, 100), place(300, 100), { ...place(200, 200), usual: 'bottom center' }])).toEqual(
    ['top center', 'top center', 'bottom center'],
  );
});

describe('a name gives way', () => {
  test('to the mark of a dance above it', () =>
    expect(sidesOf([place(200, 200)], [boxAround(200, 185, 5)])).toEqual(['middle right']));

  test('to the next feeder and to its name', () => {
    const sides = sidesOf([place(200, 200), place(200, 218), place(214, 200)]);
    expect(sides[0]).toBe('top center');
    expect(sides[1]).toBe('middle right');
    expect(labelsOf([place(200, 200)], sides).some((box) => over(box, boxAround(214, 200, 6)))).toBe(false);
  });

  test('to the edge of the map', () =>
    expect(sidesOf([place(200, 8), place(395, 200)])).toEqual(['middle right', 'middle left']));

  test('to other room that is taken', () => {
    const taken = [{ left: 150, right: 250, top: 170, bottom: 193 }];
    expect(sidesOf([place(200, 200)], [], taken)).toEqual(['middle right']);
  });
});

describe('a name is left out', () => {
  test('where no side is free', () => {
    const around = [-16, 0, 16].flatMap((x) => [-16, 0, 16].map((y) => boxAround(200 + x, 200 + y, 5)));
    expect(sidesOf([place(200, 200)], around)).toEqual([null]);
  });

  test('where its place is beyond the map, and it is in nobody’s way there', () =>
    expect(sidesOf([place(-3, 200), place(10, 200)])).toEqual([null, 'middle right']));
});

test('placed anew, closer, the names of a crowd are all there; wider, some are left out', () => {
  const crowd = [0, 1, 2, 3, 4].map((k) => [12 * k - 24, 7 * k - 14] as const);
  const seen = (scale: number) => sidesOf(crowd.map(([x, y]) => place(200 + scale * x, 200 + scale * y)));
  expect(seen(4)).not.toContain(null);
  expect(seen(0.5)).toContain(null);
  expect(seen(0.5).some((side) => side !== null)).toBe(true);
});

test('whatever the places, no name lies over a mark, another name or the edge', () => {
  const at = fc.integer({ min: -20, max: 420 });
  const some = fc.array(fc.tuple(at, at, fc.integer({ min: 5, max: 120 })), { maxLength: 25 });
  const others = fc.array(fc.tuple(at, at), { maxLength: 25 });
  fc.assert(
    fc.property(some, others, (list, dances) => {
      const places = list.map(([x, y, widthPx]) => place(x, y, widthPx));
      const marks = [...marksOf(places), ...dances.map(([x, y]) => boxAround(x, y, 6))];
      const sides = labelSides(places, marks, [], frame);
      const labels = labelsOf(places, sides);
      for (const [k, label] of labels.entries()) {
        expect(marks.filter((mark) => over(label, mark))).toEqual([]);
        expect(labels.filter((other, j) => j !== k && over(label, other))).toEqual([]);
        expect(label.left >= 0 && label.right <= 400 && label.top >= 0 && label.bottom <= 400).toBe(true);
      }
      expect(sides.every((side) => side === null || SIDES.includes(side))).toBe(true);
    }),
    { seed: 17 },
  );
});
