/** Where pulses of other trains were taken out, less than this left of a pulse's power tells nothing of it. */
export const LEAST_LEFT = 0.3;

/** The matched window and a pulse as Gaussians: spread of their amplitude, s. */
const SPREAD_S = 0.005;
const REACH_S = 0.016;

/**
 * What of a pulse's power goes when the pulses of trains are taken out, by its time and carrier, as a share: for each
 * taken out the squared correlation of two Gaussian pulses, exp(−(Δt² / σ² + (2π Δf σ)²) / 2) with σ = 5 ms (the
 * ambiguity function of a Gaussian pulse; worked out).
 */
export function hiddenBy(
  trains: readonly { readonly pulseTimesS: readonly number[]; readonly carrierHz: number }[],
): (timeS: number, carrierHz: number) => number {
  const pulses = trains
    .flatMap(({ pulseTimesS, carrierHz }) => pulseTimesS.map((timeS) => ({ timeS, carrierHz })))
    .sort((a, b) => a.timeS - b.timeS);
  const timesS = Float64Array.from(pulses, ({ timeS }) => timeS);
  const carriersHz = Float64Array.from(pulses, ({ carrierHz }) => carrierHz);
  return (timeS, carrierHz) => hiddenAt(timesS, carriersHz, timeS, carrierHz);
}

function hiddenAt(timesS: Float64Array, carriersHz: Float64Array, timeS: number, carrierHz: number): number {
  let left = 1;
  for (let k = firstFrom(timesS, timeS - REACH_S); k < timesS.length; k++) {
    const apart = (timesS[k]! - timeS) / SPREAD_S;
    if (apart * SPREAD_S > REACH_S) break;
    const turn = 2 * Math.PI * (carriersHz[k]! - carrierHz) * SPREAD_S;
    left *= 1 - Math.exp(-0.5 * (apart * apart + turn * turn));
  }
  return 1 - left;
}

/** Index of the first of ascending times that is not before another: asked for at every place, so without a library. */
function firstFrom(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle]! < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}
