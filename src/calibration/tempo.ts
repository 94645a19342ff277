/**
 * Dance tempo is calibrated as circuit time: 15 s over the circuits danced in them. So the falling tempo curve
 * on distance is 15/(a + b·d).
 *
 * Why this form. A circuit is a run and a return phase, and both take longer with distance, nearly in a
 * straight line over the first kilometres; so the thing timed is the circuit, its errors are errors of time,
 * and the tempo falls towards zero without ever reaching it. A power of distance follows the short distances
 * of the common rule (10, 8, 6 and 5 circuits in a quarter minute at 100, 200, 500 and 1000 m) more closely,
 * and so does a levelling circuit time, but neither agrees with the rest of the rule, that five circuits in
 * 18 s mean about 1300 m: the one reads 1700 m there, the other nothing at all. Circuits falling with the
 * logarithm of distance agree as well as this form but become negative. The information criterion cannot
 * choose between forms on four points.
 */
export const tempoCurve = 'line';

const tempoWindowS = 15;

/** Seconds a circuit takes, of circuits per 15 s. */
export function circuitTimeS(circuitsPer15s: number): number {
  return tempoWindowS / circuitsPer15s;
}

/** Circuits per 15 s, of the seconds a circuit takes. */
export function circuitsPer15s(timeS: number): number {
  return tempoWindowS / timeS;
}
