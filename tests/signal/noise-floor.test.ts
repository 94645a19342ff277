import { expect, test } from 'vitest';
import { heldDown, type NoiseFloor } from '../../src/signal/noise-floor.ts';

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
