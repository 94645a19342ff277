/** Room on the screen, px right of and below the map's upper left corner. */
export interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

/** A place with a name. */
export interface Named {
  readonly x: number;
  readonly y: number;
  /** Half the size of its mark. */
  readonly markPx: number;
  readonly widthPx: number;
  /** Where the name stands if it can; above the mark where nothing is said. */
  readonly usual?: Side;
}

/** Where a name may stand about its mark, the better place first; as the figure library calls them. */
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

/** Height of a name in letters of 12 px, from the top of the tall ones to the foot of the long ones. */
const LINE_PX = 13;
/** What a name keeps away from another's mark or name, so that neither is taken for the other's. */
const APART_PX = 2;

/**
 * Sides for the names of places so that they lie neither over each other nor over any mark, and within the map: each at
 * the first side that is free.
 *
 * @param marks room of all marks, those of the places too
 * @param taken other room where no name may stand
 * @param frame the map; a place beyond it gets no name
 * @returns in the order of the places; null where no side is free, so that the name is left out
 */
export function labelSides(
  places: readonly Named[],
  marks: readonly Box[],
  taken: readonly Box[],
  frame: Box,
): (Side | null)[] {
  const inTheWay = [...marks, ...taken];
  return places.map((place) => {
    if (!within(boxAround(place.x, place.y, 0), frame)) return null;
    const side = [place.usual ?? SIDES[0], ...SIDES].find((one) => {
      const label = labelBox(place, one);
      return within(label, frame) && !inTheWay.some((box) => overlap(box, label));
    });
    if (side === undefined) return null;
    inTheWay.push(grown(labelBox(place, side), APART_PX));
    return side;
  });
}

/** Room of a mark that reaches so far from its middle. */
export function boxAround(x: number, y: number, reachPx: number): Box {
  return { left: x - reachPx, right: x + reachPx, top: y - reachPx, bottom: y + reachPx };
}

/** Room that a name takes at a side of its mark: there the figure library puts it. */
export function labelBox({ x, y, markPx, widthPx }: Named, side: Side): Box {
  const { left, right, top, bottom } = boxAround(x, y, markPx / 0.8 + 1);
  const [up, along] = side.split(' ') as [string, string];
  const rows = {
    top: { top: top - LINE_PX, bottom: top },
    middle: { top: y - LINE_PX / 2, bottom: y + LINE_PX / 2 },
    bottom: { top: bottom, bottom: bottom + LINE_PX },
  };
  const columns = {
    left: { left: left - widthPx, right: left },
    center: { left: x - widthPx / 2, right: x + widthPx / 2 },
    right: { left: right, right: right + widthPx },
  };
  return { ...rows[up as keyof typeof rows], ...columns[along as keyof typeof columns] };
}

const grown = ({ left, right, top, bottom }: Box, by: number): Box => ({
  left: left - by,
  right: right + by,
  top: top - by,
  bottom: bottom + by,
});

const within = (one: Box, other: Box): boolean =>
  one.left >= other.left && one.right <= other.right && one.top >= other.top && one.bottom <= other.bottom;

const overlap = (one: Box, other: Box): boolean =>
  one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
