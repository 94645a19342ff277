/**
 * The amplitude of a sound over its time: a raised-cosine rise, a level hold, and a fall that is either a raised
 * cosine or exponential. The peak is 1. All lengths in s.
 */
export interface Envelope {
  readonly attackS: number;
  readonly holdS: number;
  readonly releaseS: number;
  readonly fall: 'cosine' | 'exponential';
}

/**
 * Onset and offset of a sound are where its amplitude first and last exceeds this share of its peak. Truth
 * tables hold these times, not the ends of the mathematical envelope, which nobody could hear.
 */
const AUDIBLE_SHARE = 0.1;

/** Share of a raised-cosine flank that lies below the audible share: 0.5 (1 - cos(pi x)) = AUDIBLE_SHARE. */
const QUIET_FLANK_SHARE = Math.acos(1 - 2 * AUDIBLE_SHARE) / Math.PI;

/** Share of an exponential fall that is audible. */
const AUDIBLE_FALL_SHARE = audibleFallShare();

/** Whole length of an envelope in s. */
export function envelopeLengthS(envelope: Envelope): number {
  return envelope.attackS + envelope.holdS + envelope.releaseS;
}

/** Amplitude (0 to 1) at a time in s from the envelope's beginning. */
export function envelopeAt(envelope: Envelope, timeS: number): number {
  const { attackS, holdS, releaseS } = envelope;
  if (timeS < 0) return 0;
  if (timeS < attackS) return 0.5 - 0.5 * Math.cos((Math.PI * timeS) / attackS);
  const fallenS = timeS - attackS - holdS;
  if (fallenS <= 0) return 1;
  if (fallenS >= releaseS) return 0;
  const share = fallenS / releaseS;
  return envelope.fall === 'cosine' ? 0.5 + 0.5 * Math.cos(Math.PI * share) : exponentialFall(share);
}

/** Onset and offset (s from the envelope's beginning): where the amplitude crosses the audible share. */
export function audibleBounds(envelope: Envelope): { onsetS: number; offsetS: number } {
  const { attackS, holdS, releaseS, fall } = envelope;
  const audibleFall = fall === 'cosine' ? 1 - QUIET_FLANK_SHARE : AUDIBLE_FALL_SHARE;
  return { onsetS: attackS * QUIET_FLANK_SHARE, offsetS: attackS + holdS + releaseS * audibleFall };
}

/**
 * An envelope whose audible part (onset to offset) lasts a given time.
 *
 * @param audibleS wanted offset minus onset, s
 * @param riseShare share of the whole length taken by the rise, above 0
 * @param fallShare share taken by the fall, above 0; riseShare + fallShare at most 1
 */
export function envelopeOfAudibleLength(
  audibleS: number,
  riseShare: number,
  fallShare: number,
  fall: Envelope['fall'],
): Envelope {
  const hold = Math.max(0, 1 - riseShare - fallShare);
  const audibleFall = fall === 'cosine' ? 1 - QUIET_FLANK_SHARE : AUDIBLE_FALL_SHARE;
  const wholeS = audibleS / (riseShare * (1 - QUIET_FLANK_SHARE) + hold + fallShare * audibleFall);
  return { attackS: riseShare * wholeS, holdS: hold * wholeS, releaseS: fallShare * wholeS, fall };
}

/** Down by 40 dB over the fall, and to nothing at its end. */
function exponentialFall(share: number): number {
  return Math.exp(-4.6 * share) * (1 - share);
}

function audibleFallShare(): number {
  let low = 0;
  let high = 1;
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2;
    if (exponentialFall(middle) > AUDIBLE_SHARE) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
