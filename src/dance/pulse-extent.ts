import type { MatchedView, Pulse } from './matched-view.ts';

/**
 * How far a pulse reaches before and after its middle, from the mean of all pulses of the train: the distances
 * at which the mean falls to a quarter, from its top to its base, left and right, are taken in a short window (that
 * of `edges`), and turned into onset and offset (10 % of the peak amplitude) by a straight line in both, fitted to
 * simulated pulses of many lengths and shapes.
 */
export function pulseExtent(
  view: MatchedView,
  pulses: Pulse[],
  beatS: number,
): { beforeS: number; afterS: number } {
  const { leftS, rightS } = quarterWidths(view, pulses, beatS);
  return {
    beforeS: EXTENT.before.atZeroS + EXTENT.before.left * leftS + EXTENT.before.right * rightS,
    afterS: EXTENT.after.atZeroS + EXTENT.after.left * leftS + EXTENT.after.right * rightS,
  };
}

/** The straight lines, as `tests/bench/fit-pulse-extent.ts` fits them. */
export const EXTENT = {
  before: { atZeroS: 0.003, left: 0.6217, right: 0.3313 },
  after: { atZeroS: 0.0071, left: 0.0155, right: 0.5539 },
};

/**
 * Distances, s, from the middle of a pulse to where the mean over all of them falls to a quarter of its top above
 * its base, before and after.
 */
export function quarterWidths(
  view: MatchedView,
  pulses: Pulse[],
  beatS: number,
): { leftS: number; rightS: number } {
  const { fromS, stepS, count } = view;
  const half = Math.round((0.55 * beatS) / stepS);
  const profile = new Float64Array(2 * half + 1);
  const centres = pulses.map((pulse) => Math.round((pulse.timeS - fromS) / stepS));
  const powers = view.edges(
    Math.max(0, Math.min(...centres) - half),
    Math.min(count - 1, Math.max(...centres) + half),
  );
  for (const centre of centres) {
    const from = Math.max(-half, -centre);
    const to = Math.min(half, count - 1 - centre);
    for (let k = from; k <= to; k++) profile[k + half]! += powers[centre + k]! / pulses.length;
  }
  const farthestTop = Math.round(0.004 / stepS);
  let top = half;
  for (let k = half - farthestTop; k <= half + farthestTop; k++) if (profile[k]! > profile[top]!) top = k;
  let base = 1;
  for (let k = 0; k < profile.length; k++) base = Math.min(base, profile[k]!);
  const level = base + 0.25 * (profile[top]! - base);
  const reach = (direction: 1 | -1): number => {
    let k = top;
    while (k + direction >= 0 && k + direction < profile.length && profile[k + direction]! > level) {
      k += direction;
    }
    const next = profile[k + direction];
    const fraction = next === undefined ? 0 : (profile[k]! - level) / (profile[k]! - next);
    return Math.abs(k + direction * fraction - half) * stepS;
  };
  return { leftS: reach(-1), rightS: reach(1) };
}
