/** Width over which a pulse as strong as the noise would be as likely at one place as at another, s. */
const PLACE_S = 0.029;

/**
 * What a pulse costs for the choice of times at which it may stand. The likelihood ratio of a pulse about an expected
 * time is the mean of the ratios of all times, by how likely they are; where that of the best time is taken in its
 * place, this is what it is too large by (Laplace's approximation): ln of the width of the expectation, σ √(2π), over
 * the width of the peak. A pulse's window is about as long as it is, so the power about its middle falls by its
 * strength times the square of the time away, over the square of some 16 ms: the peak is narrower by the root of the
 * strength. So noise has more chances under a slow beat, and a strong dancer's pulses leave it fewer places to be
 * taken for one.
 *
 * @param spreadS SD of the pulse's time about what is expected, s
 * @param strength power of the dancer's pulses over the noise floor
 * @returns ln of a likelihood ratio; 0 where there is less choice than one place
 */
export function choiceCost(spreadS: number, strength: number): number {
  return Math.max(0, Math.log((spreadS * Math.sqrt(2 * Math.PI * strength)) / PLACE_S));
}
