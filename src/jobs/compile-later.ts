import { setFlagsFromString } from 'node:v8';

/** How much byte code a function runs through before it is compiled to machine code: eight times the engine's own. */
const INTERRUPT_BUDGET = 8 * 66 * 1024;

/**
 * Lets the engine compile only what is run through often, and that when more is known of it: of what runs a few
 * thousand times in an hour of sound, such as most of the small functions that are handed to others, compiling takes
 * longer than running, and it took a quarter of all processor time. The innermost loops do not notice.
 */
export function compileLater(): void {
  setFlagsFromString(`--interrupt-budget=${INTERRUPT_BUDGET}`);
}
