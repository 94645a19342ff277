import { expect, test } from 'vitest';
import { heldDown, heldToOthers } from '../../src/signal/held-floor.ts';
import { type NoiseFloor, noiseFloor, overFloor } from '../../src/signal/noise-floor.ts';

test('a sound of several seconds does not lift a floor that is held down, and nothing else changes', () => {
  const anchorCount = 80; // 40 s
  const floor: NoiseFloor = {
    level: Float32Array.from({ length: anchorCount * 3 }, (_, k) => {
      const anchor = Math.floor(k / 3);
      return (k % 3) + 1 + (k % 3 === 1 && anchor >= 30 && anchor < 42 ? 20 : 0);
    }),
    anchorCount,
    spacingFrames: 125,
    binCount: 3,
  };
  const held = heldDown(floor, { firstBin: 0, lastBin: 2, reachS: 10, factor: 1.5 });
  for (let anchor = 0; anchor < anchorCount; anchor++) {
    const lifted = anchor >= 30 && anchor < 42;
    expect(Array.from(held.level.subarray(3 * anchor, 3 * anchor + 3))).toEqual([1, lifted ? 3 : 2, 3]);
  }
});

test('a floor held to the others goes with noise that swells in all bins, not with sound in one', () => {
  const anchorCount = 80; // 40 s
  const binCount = 5;
  const isSwelling = (anchor: number) => anchor >= 20 && anchor < 44;
  const isSounding = (anchor: number) => anchor >= 30 && anchor < 42;
  const floor: NoiseFloor = {
    level: Float32Array.from({ length: anchorCount * binCount }, (_, k) => {
      const anchor = Math.floor(k / binCount);
      const noise = ((k % binCount) + 1) * (isSwelling(anchor) ? 4 : 1);
      return k % binCount === 1 && isSounding(anchor) ? 6 * noise : noise;
    }),
    anchorCount,
    spacingFrames: 125,
    binCount,
  };
  const held = heldToOthers(floor, { firstBin: 0, lastBin: 4, reachS: 10, factor: 1.5 });
  for (let anchor = 0; anchor < anchorCount; anchor++) {
    const swell = isSwelling(anchor) ? 4 : 1;
    const wanted = [1, isSounding(anchor) ? 3 : 2, 3, 4, 5].map((level) => level * swell);
    const found = held.level.subarray(binCount * anchor, binCount * (anchor + 1));
    wanted.forEach((level, bin) => {
      expect(found[bin]).toBeCloseTo(level, 5);
    });
  }
});

test('a floor of digital silence held to the others stays 0', () => {
  const floor: NoiseFloor = {
    level: new Float32Array(240),
    anchorCount: 80,
    spacingFrames: 125,
    binCount: 3,
  };
  const held = heldToOthers(floor, { firstBin: 0, lastBin: 2, reachS: 10, factor: 1.5 });
  expect(held.level.every((level) => level === 0)).toBe(true);
});

test('at either end the floor is that of four whole seconds, though the last one is quieter', () => {
  const frameCount = 2500; // 10 s in steps of 4 ms
  const quiet = (frame: number) => frame < 250 || frame >= frameCount - 250;
  const power = Float32Array.from({ length: frameCount }, (_, frame) => (quiet(frame) ? 1 : 9));
  const frames = { power, frameCount, binCount: 1, hopS: 0.004, binWidthHz: 16 };
  const { level } = noiseFloor(frames, 0, 0);
  // A quarter of the four seconds is quiet: the 30 % quantile is the loud part's, a mean of −9/ln 0.7.
  const wanted = -9 / Math.log(0.7);
  for (const found of level) expect(Math.abs(found / wanted - 1)).toBeLessThan(1 / 16);
});

test('a sound at the very end, or at the start, is held down by twenty whole seconds', () => {
  const anchorCount = 80; // 40 s
  for (const isLifted of [(anchor: number) => anchor >= 64, (anchor: number) => anchor < 16]) {
    const level = Float32Array.from({ length: anchorCount }, (_, anchor) => (isLifted(anchor) ? 21 : 1));
    const floor: NoiseFloor = { level, anchorCount, spacingFrames: 125, binCount: 1 };
    const held = heldDown(floor, { firstBin: 0, lastBin: 0, reachS: 10, factor: 1.5 });
    expect(Array.from(held.level)).toEqual(Array.from(level, (_, anchor) => (isLifted(anchor) ? 1.5 : 1)));
  }
});

test('between anchors the floor rises straight', () => {
  const power = new Float32Array(8).fill(12);
  const frames = { power, frameCount: 8, binCount: 1, hopS: 0.125, binWidthHz: 16 };
  const floor: NoiseFloor = {
    level: Float32Array.of(1, 3, 3),
    anchorCount: 3,
    spacingFrames: 4,
    binCount: 1,
  };
  const wanted = [12, 8, 6, 4.8, 4, 4, 4, 4];
  expect(Array.from(overFloor(frames, floor, 0, 0), (ratio) => Number(ratio.toFixed(6)))).toEqual(wanted);
});

test.each([1, 125, 126, 249, 250, 251])('every one of %d frames has a floor', (frameCount) => {
  const power = new Float32Array(frameCount).fill(5);
  const frames = { power, frameCount, binCount: 1, hopS: 0.004, binWidthHz: 16 };
  const ratios = overFloor(frames, noiseFloor(frames, 0, 0), 0, 0);
  // The mean of an exponential whose 30 % quantile is the power.
  for (const ratio of ratios) expect(Math.abs(ratio / -Math.log(0.7) - 1)).toBeLessThan(1 / 16);
});
