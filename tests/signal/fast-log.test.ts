import fc from 'fast-check';
import { expect, test } from 'vitest';
import { logsOf } from '../../src/signal/fast-log.ts';

test('logarithms agree with Math.log to 0.001', () => {
  fc.assert(
    fc.property(fc.float({ min: Math.fround(1e-6), max: Math.fround(1e9), noNaN: true }), (value) => {
      const [log] = logsOf(Float32Array.of(value));
      expect(Math.abs(log! - Math.log(value))).toBeLessThan(0.001);
    }),
    { seed: 21, numRuns: 5000 },
  );
});
