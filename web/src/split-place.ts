import { shortestSoundS } from '../../src/study/least-sound-length.ts';
import type { WindowSound } from '../../src/study/study-schemas.ts';

/** From the middle of the last pulse before a gap to the part's end, s. */
const PULSE_HALF_S = 0.012;

export interface SplitPlace {
  readonly firstEndS: number;
  readonly secondStartS: number;
}

/**
 * Where a sound is cut in two: at the cursor where both parts are long enough, else in the widest gap between pulses,
 * which belongs to neither part, else in the middle.
 *
 * @returns null where there is no room for two parts
 */
export function splitPlace(
  { startS, endS, pulseTimesS: pulses }: Pick<WindowSound, 'startS' | 'endS' | 'pulseTimesS'>,
  cursorS: number,
): SplitPlace | null {
  const leavesBoth = ({ firstEndS, secondStartS }: SplitPlace) =>
    Math.min(firstEndS - startS, endS - secondStartS) >= shortestSoundS;
  const atCursor = { firstEndS: cursorS, secondStartS: cursorS };
  if (leavesBoth(atCursor)) return atCursor;
  let [at, gap] = [(startS + endS) / 2, 0];
  for (let k = 1; k < pulses.length; k++) {
    if (pulses[k]! - pulses[k - 1]! <= gap) continue;
    gap = pulses[k]! - pulses[k - 1]!;
    at = (pulses[k]! + pulses[k - 1]!) / 2;
  }
  const half = Math.max(0, gap / 2 - PULSE_HALF_S);
  const inGap = { firstEndS: at - half, secondStartS: at + half };
  return leavesBoth(inGap) ? inGap : null;
}
