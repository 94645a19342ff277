import { uniformFloat64 } from 'pure-rand/distribution/uniformFloat64';
import { xoroshiro128plus } from 'pure-rand/generator/xoroshiro128plus';

/** A seeded source of random numbers, handed to whatever needs chance. The same seed gives the same numbers. */
export interface Random {
  /** Uniform on [0, 1). */
  uniform(): number;
  /** Uniform on [low, high). */
  between(low: number, high: number): number;
  /** Standard normal. */
  normal(): number;
  /** Gamma with the given shape (> 0) and scale 1. */
  gamma(shape: number): number;
  /** Whole number in [0, count). */
  below(count: number): number;
}

const WARM_UP = 32;

/**
 * A seeded random source over xoroshiro128+ (pure-rand).
 * Normal: Marsaglia's polar method (Marsaglia & Bray 1964, SIAM Review 6:260).
 * Gamma: Marsaglia & Tsang 2000, ACM Trans Math Softw 26:363.
 *
 * @param seed 32-bit whole number
 */
export function seededRandom(seed: number): Random {
  const generator = xoroshiro128plus(seed | 0);
  const uniform = () => uniformFloat64(generator);
  // Small seeds leave most of the generator's first state empty, and its first numbers alike.
  for (let k = 0; k < WARM_UP; k++) uniform();
  let spare: number | undefined;

  const normal = (): number => {
    if (spare !== undefined) {
      const value = spare;
      spare = undefined;
      return value;
    }
    for (;;) {
      const x = 2 * uniform() - 1;
      const y = 2 * uniform() - 1;
      const square = x * x + y * y;
      if (square > 0 && square < 1) {
        const factor = Math.sqrt((-2 * Math.log(square)) / square);
        spare = y * factor;
        return x * factor;
      }
    }
  };

  const gamma = (shape: number): number => {
    // For shape < 1, a draw at shape + 1 is scaled down by a power of a uniform.
    if (shape < 1) return gamma(shape + 1) * (1 - uniform()) ** (1 / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = normal();
      const v = (1 + c * x) ** 3;
      if (v <= 0) continue;
      if (Math.log(1 - uniform()) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v;
    }
  };

  return {
    uniform,
    between: (low, high) => low + (high - low) * uniform(),
    normal,
    gamma,
    below: (count) => Math.floor(uniform() * count),
  };
}
