import { expect, test } from 'vitest';
import { labelBox, labelSides, markBox, pxPerMetre, type Side } from '../../web/src/map/label-places.ts';

const place = (name: string, eastM: number, northM: number) => ({ name, eastM, northM });
const hive = place('hive', 0, 0);
const taken = (pxPerM: number) => [markBox(hive, pxPerM), labelBox(hive, 'bottom center', pxPerM)];

test('names of places far from each other stand above their marks', () => {
  const far = [place('reed', 500, 500), place('alder', -500, 500)];
  expect(labelSides(far, taken(0.1), 0.1)).toEqual(['top center', 'top center']);
});

test('of places close to each other none lies over another name or mark', () => {
  const pxPerM = 0.07;
  const near = [
    place('reed', 130, -75),
    place('alder', 300, -165),
    place('sluice', 610, -330),
    place('mound', 1050, -560),
  ];
  const sides = labelSides(near, taken(pxPerM), pxPerM);
  expect(new Set(sides).size).toBeGreaterThan(1);
  const labels = near.map((one, k) => labelBox(one, sides[k] as Side, pxPerM));
  const marks = near.map((one) => markBox(one, pxPerM));
  for (const [k, label] of labels.entries()) {
    const others = [
      ...taken(pxPerM),
      ...labels.filter((_, j) => j !== k),
      ...marks.filter((_, j) => j !== k),
    ];
    for (const { left, right, top, bottom } of others) {
      const over = label.left < right && left < label.right && label.top < bottom && top < label.bottom;
      expect(over).toBe(false);
    }
  }
});

test('where no side is free a name stands above its mark', () => {
  const crowd = Array.from({ length: 6 }, (_, k) => place(`feeder ${k}`, k, 0));
  expect(labelSides(crowd, [], 0.1).at(-1)).toBe('top center');
});

test('the scale is that of the axis with less room', () => {
  expect(pxPerMetre({ x: [0, 1000], y: [0, 100] }, 384, 460)).toBeCloseTo(0.3, 9);
  expect(pxPerMetre({ x: [0, 1000], y: [0, 1000] }, 1084, 460)).toBeCloseTo(0.35, 9);
});
