/**
 * Taps of a linear-phase low-pass FIR by the Kaiser window method, scaled to a gain of exactly 1 at 0 Hz.
 *
 * @param sampleRateHz rate the filter runs at
 * @param passHz end of the pass band
 * @param stopHz start of the stop band (> passHz)
 * @param attenuationDb ripple and stop-band attenuation, dB (> 21)
 * @returns an odd number of symmetric taps
 *
 * Source: Kaiser 1974, Proc IEEE Int Symp Circuits Syst, 20; formulas as in Oppenheim & Schafer,
 * Discrete-Time Signal Processing, 7.5 (from memory).
 */
export function lowpassTaps(
  sampleRateHz: number,
  passHz: number,
  stopHz: number,
  attenuationDb: number,
): Float64Array {
  const transition = (2 * Math.PI * (stopHz - passHz)) / sampleRateHz;
  const half = Math.ceil((attenuationDb - 7.95) / (2.285 * transition) / 2);
  const beta =
    attenuationDb > 50
      ? 0.1102 * (attenuationDb - 8.7)
      : 0.5842 * (attenuationDb - 21) ** 0.4 + 0.07886 * (attenuationDb - 21);
  const cutoff = (passHz + stopHz) / sampleRateHz; // in half cycles per sample
  const taps = new Float64Array(2 * half + 1);
  let sum = 0;
  for (let k = -half; k <= half; k++) {
    const ideal = k === 0 ? cutoff : Math.sin(Math.PI * cutoff * k) / (Math.PI * k);
    const window = besselI0(beta * Math.sqrt(1 - (k / (half + 1)) ** 2)) / besselI0(beta);
    taps[k + half] = ideal * window;
    sum += ideal * window;
  }
  return taps.map((tap) => tap / sum);
}

/** Modified Bessel function of the first kind, order 0, by its power series (DLMF 10.25.2). */
export function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > 1e-17 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}
