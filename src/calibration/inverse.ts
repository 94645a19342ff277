/** A curve of time on distance with the standard error of what is to be read off it. */
export interface Band {
  /** Expected time (s) at a distance, rising with distance. */
  value(distanceM: number): number;
  /** Half the band's width (s) at a distance, at least 0. */
  halfWidth(distanceM: number): number;
}

/** What distances agree with a time. null bounds are open or unknown, as `position` says. */
export interface InverseReading {
  readonly distanceM: number | null;
  readonly lowM: number | null;
  /** null when every distance up to the end of the search agrees. */
  readonly highM: number | null;
  /** Where the time lies: on the curve, or below its start, or above what it reaches by the search's end. */
  readonly position: 'on' | 'below' | 'above';
  /** False when no distance at all agrees; the bounds are then null. */
  readonly agrees: boolean;
}

const gridSteps = 2400;
const halvings = 60;
// A curve that its points lie on exactly has a band without width, which rounding alone would miss.
const rounding = 1e-12;

/**
 * Reads a time backwards: the distance whose expected time it is, and every distance whose prediction band
 * holds it (the interval by inverting the band; Fieller 1954 for the straight line, from memory). Where the
 * distances that agree are not one stretch, the interval spans them all.
 *
 * @param timeS the time read (s)
 * @param farthestM end of the search, which begins at 0
 */
export function readBackwards(band: Band, timeS: number, farthestM: number): InverseReading {
  const distanceM = crossing(band, timeS, farthestM);
  const position = timeS < band.value(0) ? 'below' : distanceM === null ? 'above' : 'on';
  const agreesAt = (d: number) =>
    Math.abs(timeS - band.value(d)) <= band.halfWidth(d) + rounding * Math.abs(timeS);
  const grid = Array.from({ length: gridSteps + 1 }, (_, step) => (farthestM * step) / gridSteps);
  // The crossing itself always agrees, even where the band is narrower than a step of the grid.
  if (position === 'on') grid.push(distanceM!);
  grid.sort((left, right) => left - right);
  const first = grid.findIndex(agreesAt);
  if (first < 0) return { distanceM: null, lowM: null, highM: null, position, agrees: false };
  const last = grid.findLastIndex(agreesAt);
  const lowM = first === 0 ? 0 : edge(agreesAt, grid[first], grid[first - 1]);
  const highM = last === grid.length - 1 ? null : edge(agreesAt, grid[last], grid[last + 1]);
  return { distanceM: position === 'below' ? 0 : distanceM, lowM, highM, position, agrees: true };
}

function crossing(band: Band, timeS: number, farthestM: number): number | null {
  if (timeS <= band.value(0)) return 0;
  if (timeS >= band.value(farthestM)) return null;
  let low = 0;
  let high = farthestM;
  for (let i = 0; i < halvings; i++) {
    const middle = (low + high) / 2;
    if (band.value(middle) < timeS) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The edge of agreement between a distance that agrees and one that does not. */
function edge(agreesAt: (distanceM: number) => boolean, inside: number, outside: number): number {
  let agreeing = inside;
  let not = outside;
  for (let i = 0; i < halvings; i++) {
    const middle = (agreeing + not) / 2;
    if (agreesAt(middle)) agreeing = middle;
    else not = middle;
  }
  return agreeing;
}
