import { degrees, within360 } from '../../src/bearing/angles.ts';
import type { Random } from '../../src/random.ts';

/**
 * A direction drawn from a von Mises distribution, degrees from 0 to 360.
 * Best & Fisher 1979, Applied Statistics 28:152.
 */
export function drawVonMises(random: Random, meanDeg: number, kappa: number): number {
  if (kappa < 1e-9) return random.between(0, 360);
  const a = 1 + Math.sqrt(1 + 4 * kappa * kappa);
  const b = (a - Math.sqrt(2 * a)) / (2 * kappa);
  const r = (1 + b * b) / (2 * b);
  for (;;) {
    const z = Math.cos(Math.PI * random.uniform());
    const f = (1 + r * z) / (r + z);
    const c = kappa * (r - f);
    const u = 1 - random.uniform();
    if (c * (2 - c) > u || Math.log(c / u) + 1 >= c) {
      const angle = degrees(Math.acos(Math.min(Math.max(f, -1), 1)));
      return within360(meanDeg + (random.uniform() < 0.5 ? -angle : angle));
    }
  }
}
