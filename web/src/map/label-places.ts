import type { Span } from './span.ts';

/** A named place of the map, m from the hive. */
export interface Named {
  readonly name: string;
  readonly eastM: number;
  readonly northM: number;
}

/** Where a name may stand about its mark, the usual place first; as the figure library calls them. */
export const SIDES = [
  'top center',
  'middle right',
  'bottom center',
  'middle left',
  'top right',
  'bottom right',
  'top left',
  'bottom left',
] as const;
export type Side = (typeof SIDES)[number];

interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

const CHARACTER_PX = 7;
const LINE_PX = 12;
const MARK_PX = 5;

/**
 * Sides for the names of places so that they lie neither over each other nor over another's mark: each at the first
 * side that is free, above its mark where none is.
 *
 * @param taken names that stand already
 * @param pxPerM scale of the map
 * @returns in the order of the places
 */
export function labelSides(places: readonly Named[], taken: readonly Box[], pxPerM: number): Side[] {
  const marks = places.map((place) => markBox(place, pxPerM));
  const placed = [...taken];
  return places.map((place, k) => {
    const inTheWay = [...placed, ...marks.filter((_, other) => other !== k)];
    const free = SIDES.find((side) => !inTheWay.some((box) => overlap(box, labelBox(place, side, pxPerM))));
    const side = free ?? SIDES[0];
    placed.push(labelBox(place, side, pxPerM));
    return side;
  });
}

/** Room that a mark takes, px right of and below the hive. */
export function markBox({ eastM, northM }: Omit<Named, 'name'>, pxPerM: number): Box {
  const [x, y] = [eastM * pxPerM, -northM * pxPerM];
  return { left: x - MARK_PX, right: x + MARK_PX, top: y - MARK_PX, bottom: y + MARK_PX };
}

/** Room that a name takes at a side of its mark. */
export function labelBox(place: Named, side: Side, pxPerM: number): Box {
  const mark = markBox(place, pxPerM);
  const [x, y] = [(mark.left + mark.right) / 2, (mark.top + mark.bottom) / 2];
  const width = CHARACTER_PX * place.name.length;
  const [up, along] = side.split(' ') as [string, string];
  const rows = {
    top: { top: mark.top - LINE_PX, bottom: mark.top },
    middle: { top: y - LINE_PX / 2, bottom: y + LINE_PX / 2 },
    bottom: { top: mark.bottom, bottom: mark.bottom + LINE_PX },
  };
  const columns = {
    left: { left: mark.left - width, right: mark.left },
    center: { left: x - width / 2, right: x + width / 2 },
    right: { left: mark.right, right: mark.right + width },
  };
  return { ...rows[up as keyof typeof rows], ...columns[along as keyof typeof columns] };
}

const overlap = (one: Box, other: Box): boolean =>
  one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;

/** What margins, names of axes and the legend leave of a figure, about. */
const BESIDE_PX = 84;
const ABOVE_BELOW_PX = 110;

/** Scale at which a span fills a figure of a size, about. */
export function pxPerMetre({ x, y }: Span, widthPx: number, heightPx: number): number {
  return Math.min(
    Math.max(1, widthPx - BESIDE_PX) / (x[1] - x[0]),
    Math.max(1, heightPx - ABOVE_BELOW_PX) / (y[1] - y[0]),
  );
}
