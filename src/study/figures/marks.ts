/**
 * The colours of figures, on the page and on paper: Okabe & Ito 2008, Color Universal Design (from memory), which the
 * colour-blind tell apart. Their yellow and black are left out, which light or dark grounds swallow; an olive and a
 * grey stand for them.
 */
const colours = [
  '#0072b2',
  '#e69f00',
  '#009e73',
  '#cc79a7',
  '#56b4e9',
  '#d55e00',
  '#8a7f00',
  '#6b6b6b',
] as const;

/** Plotly's symbols, so that nothing is told by colour alone. */
const symbols = [
  'circle',
  'square',
  'diamond',
  'triangle-up',
  'cross',
  'triangle-down',
  'star',
  'hexagon',
] as const;

/** Of what stands alone in a figure, and of feeders on a map. */
export const blue = colours[0];
export const vermilion = colours[5];

/** How a group of points is drawn by plotly.js. */
export interface Mark {
  readonly color: string;
  readonly symbol: string;
}

/** The mark of the k-th group: after eight the colours begin again, with other symbols. */
export function markOf(k: number): Mark {
  const round = Math.floor(k / colours.length);
  return { color: colours[k % colours.length]!, symbol: symbols[(k + 3 * round) % symbols.length]! };
}

/** A bee as every figure shows her. */
export interface BeeMark {
  readonly beeId: string | null;
  readonly name: string;
  readonly mark: Mark;
}

/**
 * The bees of a figure, each once, with her mark: by name, dancers that nobody knows last, so that a bee looks alike
 * on the page and in the report of the same dances.
 *
 * @param beeIds bee of each dance, null where she is not known
 */
export function beeMarks(beeIds: Iterable<string | null>): BeeMark[] {
  const all = new Set(beeIds);
  const named = [...all].filter((beeId) => beeId !== null).sort();
  return [...named, ...(all.has(null) ? [null] : [])].map((beeId, k) => ({
    beeId,
    name: beeId ?? 'bee not known',
    mark: markOf(k),
  }));
}
