import type { Benchmark } from './benchmark.ts';
import { detectSpeed } from './detect-speed.ts';
import { growth } from './growth.ts';
import { startUp } from './start-up.ts';

/** All benchmarks, in the order they are run. */
export const benchmarks: readonly Benchmark[] = [startUp, detectSpeed, growth];
