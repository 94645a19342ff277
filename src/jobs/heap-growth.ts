import { setFlagsFromString } from 'node:v8';

/**
 * How far a heap may grow from one full collection to the next: to five times what is alive. By itself the engine
 * allows up to four times, and mostly far less.
 */
const GROWTH_PERCENT = 400;

/**
 * Lets the heaps of this process, those of threads still to come too, grow further before all of them is collected.
 *
 * A segment takes some 50 MB of short-lived buffers, over a heap of 10 MB that is alive: the engine would collect once
 * a segment. Each full collection drops the machine code of closures of which none is alive just then, such as are
 * made anew for each train; compiling them again was a quarter of all the processor time.
 *
 * To be called only where there is much to search: parts of the engine load more slowly from then on, some 10 ms for
 * each thread.
 */
export function letHeapsGrow(): void {
  setFlagsFromString(`--heap-growing-percent=${GROWTH_PERCENT}`);
}
