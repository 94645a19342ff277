import type { StudyMapView } from '../../../src/server/api.ts';
import { figureText } from '../../../src/study/figures/figure-text.ts';
import { type Figure, Plotly } from '../calibration/plotly.ts';
import { type Box, boxAround, labelSides, type Named, SIDES, type Side } from './label-places.ts';

/** Half the sizes of marks. */
export const HIVE_MARK_PX = 6.5;
export const FEEDER_MARK_PX = 5;
export const DANCE_MARK_PX = 4;
/** A mark's outline, and a little air. */
const OUTLINE_PX = 2;

export const NAME_FONT = { family: 'system-ui, sans-serif', size: 12 };

/** The arrow that points north covers what is under it. */
const COMPASS = { width: 30, height: 54, right: 0.985, top: 0.025 };

interface Axis {
  readonly range: readonly [number, number];
  readonly _length: number;
}

/** What the figure library knows of a figure that it has drawn. */
interface Drawn {
  readonly data: readonly { readonly name: string }[];
  readonly _fullLayout?: { readonly xaxis: Axis; readonly yaxis: Axis };
}

interface Place {
  readonly eastM: number;
  readonly northM: number;
}

/**
 * Puts the names of hive and feeders where they lie clear of marks and of each other, as the map stands now. A name
 * that has no room is left out.
 *
 * @returns once they are drawn
 */
export async function placeNames(figure: Figure, { feeders, dances }: StudyMapView): Promise<void> {
  const { _fullLayout: layout } = figure as unknown as Drawn;
  if (layout === undefined) return;
  const { xaxis, yaxis } = layout;
  const at = ({ eastM, northM }: Place) => ({
    x: ((eastM - xaxis.range[0]) / (xaxis.range[1] - xaxis.range[0])) * xaxis._length,
    y: ((yaxis.range[1] - northM) / (yaxis.range[1] - yaxis.range[0])) * yaxis._length,
  });
  const widthPx = nameWidths();
  const hive: Named = {
    ...at({ eastM: 0, northM: 0 }),
    markPx: HIVE_MARK_PX,
    widthPx: widthPx('hive'),
    usual: 'bottom center',
  };
  const named = feeders.map((feeder): Named => {
    return { ...at(feeder), markPx: FEEDER_MARK_PX, widthPx: widthPx(feeder.feederId) };
  });
  const marks = [
    ...[hive, ...named].map(({ x, y, markPx }) => boxAround(x, y, markPx + OUTLINE_PX)),
    ...dances.map(at).map(({ x, y }) => boxAround(x, y, DANCE_MARK_PX + OUTLINE_PX)),
  ];
  const frame = { left: 0, right: xaxis._length, top: 0, bottom: yaxis._length };
  const [hiveSide, ...sides] = labelSides([hive, ...named], marks, [compassBox(frame)], frame);
  const feederNames = feeders.map(({ feederId }) => feederId);
  await write(figure, [
    { trace: 'hive', names: ['hive'], sides: [hiveSide ?? null] },
    { trace: 'feeders', names: feederNames, sides },
  ]);
}

interface Written {
  readonly trace: string;
  readonly names: readonly string[];
  readonly sides: readonly (Side | null)[];
}

/** All in one change. */
async function write(figure: Figure, all: readonly Written[]): Promise<void> {
  const { data } = figure as unknown as Drawn;
  const changes = all.flatMap(({ trace, names, sides }) => {
    // The last of the name: a backdrop may be called the same.
    const k = data.findLastIndex(({ name }) => name === trace);
    const text = names.map((name, at) => (sides[at] === null ? '' : figureText(name)));
    return k < 0 ? [] : [{ k, text, textposition: sides.map((side) => side ?? SIDES[0]) }];
  });
  await Plotly.restyle(
    figure,
    { text: changes.map(({ text }) => text), textposition: changes.map(({ textposition }) => textposition) },
    changes.map(({ k }) => k),
  );
}

function compassBox({ right: width, bottom: height }: Box): Box {
  const right = COMPASS.right * width;
  const top = COMPASS.top * height;
  return { left: right - COMPASS.width, right, top, bottom: top + COMPASS.height };
}

/** Measures names as they are drawn. */
function nameWidths(): (name: string) => number {
  const context = document.createElement('canvas').getContext('2d')!;
  context.font = `${NAME_FONT.size}px ${NAME_FONT.family}`;
  return (name) => context.measureText(name).width;
}
