import { distanceAndBearing } from '../../bearing/geodesy.ts';
import type { Site } from '../../bearing/sun.ts';
import type { ForagingMap } from '../maps.ts';
import type { FeederPlace } from '../places.ts';
import { figureText } from './figure-text.ts';
import { blue, vermilion } from './marks.ts';
import { columnWidthPx, type Figure, paperLayout, type Trace } from './style.ts';

const shades = {
  0.5: 'rgba(0,114,178,0.45)',
  0.8: 'rgba(0,114,178,0.25)',
  0.95: 'rgba(0,114,178,0.12)',
} as const;
const dashes = { 0.5: 'solid', 0.8: 'dash', 0.95: 'dot' } as const;

/** The foraging map: regions of 50, 80 and 95 %, hive, feeders and the dances' places, in metres, north up. */
export function mapFigure(site: Site, map: ForagingMap, feeders: readonly FeederPlace[]): Figure {
  const layout = paperLayout('east of the hive (m)', 'north of the hive (m)', {
    width: Math.round(1.5 * columnWidthPx),
    height: Math.round(1.45 * columnWidthPx),
    showlegend: true,
    legend: { orientation: 'h', x: 0, y: 1.02, yanchor: 'bottom', itemwidth: 30 },
  });
  const yaxis = { ...(layout.yaxis as object), scaleanchor: 'x', scaleratio: 1 };
  return {
    name: 'map',
    data: [
      ...[...map.regions].sort((a, b) => b.level - a.level).map(regionTrace),
      ...markers(site, map, feeders),
    ],
    layout: { ...layout, yaxis },
  };
}

/** All rings of a region as one line with gaps; holes are left open by the even-odd rule. */
function regionTrace({ level, polygons }: ForagingMap['regions'][number]): Trace {
  const rings = polygons.flat();
  const points = rings.flatMap((ring, k) => [...(k === 0 ? [] : [null]), ...ring]);
  const share = level as keyof typeof shades;
  const metres = (value: number) => Number(value.toFixed(1));
  return {
    type: 'scatter',
    mode: 'lines',
    name: `${Math.round(100 * level)} %`,
    x: points.map((point) => point && metres(point[0])),
    y: points.map((point) => point && metres(point[1])),
    fill: 'toself',
    fillcolor: shades[share],
    line: { color: blue, width: 1, dash: dashes[share] },
    hoverinfo: 'name',
  };
}

interface Spot {
  readonly xM: number;
  readonly yM: number;
  readonly text: string;
}

function markers(site: Site, map: ForagingMap, feeders: readonly FeederPlace[]): Trace[] {
  const goals = map.places.flatMap(({ latitude, longitude, dance_id }) =>
    latitude === null || longitude === null ? [] : [spotOf(site, latitude, longitude, dance_id)],
  );
  const fed = feeders.flatMap(({ latitudeDeg, longitudeDeg, feederId }) =>
    latitudeDeg === null || longitudeDeg === null ? [] : [spotOf(site, latitudeDeg, longitudeDeg, feederId)],
  );
  return [
    spotTrace('dances', goals, { size: 4, color: '#000000', symbol: 'x' }, false),
    ...(fed.length === 0
      ? []
      : [spotTrace('feeders', fed, { size: 7, color: vermilion, symbol: 'square' }, true)]),
    spotTrace(
      'hive',
      [{ xM: 0, yM: 0, text: 'hive' }],
      { size: 10, color: '#000000', symbol: 'triangle-up' },
      false,
    ),
  ];
}

function spotOf(site: Site, latitudeDeg: number, longitudeDeg: number, text: string): Spot {
  const { distanceM, bearingDeg } = distanceAndBearing(site, { latitudeDeg, longitudeDeg });
  const turn = (bearingDeg * Math.PI) / 180;
  const [xM, yM] = [distanceM * Math.sin(turn), distanceM * Math.cos(turn)];
  return { xM: Number(xM.toFixed(1)), yM: Number(yM.toFixed(1)), text };
}

function spotTrace(name: string, spots: readonly Spot[], marker: object, named: boolean): Trace {
  return {
    type: 'scatter',
    mode: named ? 'markers+text' : 'markers',
    name,
    x: spots.map(({ xM }) => xM),
    y: spots.map(({ yM }) => yM),
    text: spots.map(({ text }) => figureText(text)),
    textposition: 'top center',
    marker,
  };
}
