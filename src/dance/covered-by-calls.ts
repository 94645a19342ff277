import type { Tone } from './find-calls.ts';

/** A begging call lasts no longer than this, and of a shorter tone little is sure. */
const LONGEST_TONE_S = 0.25;
const LEAST_TONE_S = 0.04;
/** How near in carrier a call is heard as pulses of a train; a loud one is heard further by its onset and end. */
const NEAR_HZ = 80;
const LOUD_NEAR_HZ = 130;
/** Power over a train's pulses from which a call is loud. */
const LOUD = 3;
/** The window hears a call half its length outside; what is measured of a call falls a little short of it. */
const BEFORE_S = 0.014;
/** A loud call dies away slowly, which is measured shorter still. */
const AFTER_S = 0.03;

/** Stretches of time, s from the segment's start, in which a call covers what a train's carrier would tell. */
export function coveredByCalls(
  calls: readonly Tone[],
  { carrierHz, strength }: { carrierHz: number; strength: number },
): (readonly [number, number])[] {
  return calls
    .filter(({ startS, endS, carrierHz: callHz, ratio }) => {
      const nearHz = ratio > LOUD * strength ? LOUD_NEAR_HZ : NEAR_HZ;
      return (
        endS - startS >= LEAST_TONE_S &&
        endS - startS <= LONGEST_TONE_S &&
        Math.abs(callHz - carrierHz) < nearHz
      );
    })
    .map(({ startS, endS }) => [startS - BEFORE_S, endS + AFTER_S]);
}
