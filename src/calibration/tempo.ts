/**
 * Dance tempo is calibrated as circuit time: 15 s over the circuits danced in them, with the same curves as run
 * duration. A rising curve of circuit time is a falling one of tempo.
 *
 * Why circuit time. A circuit is a run and a return phase, and both take longer with distance, so the thing
 * timed is the circuit, its errors are errors of time, and the tempo falls towards zero without ever reaching
 * it. Of the common rule (10, 8, 6 and 5 circuits in a quarter minute at 100, 200, 500 and 1000 m; common
 * practice, no source) a straight line of circuit time also tells the rest, that five circuits in 18 s mean
 * about 1300 m.
 */
const tempoWindowS = 15;

/** Seconds a circuit takes, of circuits per 15 s. */
export function circuitTimeS(circuitsPer15s: number): number {
  return tempoWindowS / circuitsPer15s;
}

/** Circuits per 15 s, of the seconds a circuit takes. */
export function circuitsPer15s(timeS: number): number {
  return tempoWindowS / timeS;
}
