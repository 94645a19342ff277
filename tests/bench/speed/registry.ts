import type { Benchmark } from './benchmark.ts';
import { detectSpeed } from './detect-speed.ts';
import { growth } from './growth.ts';
import { queueLimit } from './queue-limit.ts';
import { startUp } from './start-up.ts';
import { threads } from './threads.ts';

/** All benchmarks, in the order they are run. */
export const benchmarks: readonly Benchmark[] = [startUp, detectSpeed, threads, growth, queueLimit];
